// Which keys may stand where in a plan, as its schema has them.
import { z } from 'zod'
import { planSchema } from './plan.ts'

type Node = z.core.JSONSchema._JSONSchema

/** The keys that an object at this path may have; where several forms may stand, those of all. */
export function planKeysAt(path: readonly PropertyKey[]): readonly string[] {
  const root: Node = z.toJSONSchema(planSchema, { io: 'input', unrepresentable: 'any' })
  const reached = path.reduce<readonly Node[]>((nodes, key) => nodes.flatMap((node) => below(node, key)), forms(root))
  return [...new Set(reached.flatMap((node) => (typeof node === 'boolean' ? [] : Object.keys(node.properties ?? {}))))]
}

function forms(node: Node): readonly Node[] {
  if (typeof node === 'boolean') return []
  const others = node.anyOf ?? node.oneOf
  return others === undefined ? [node] : others.flatMap(forms)
}

function below(node: Node, key: PropertyKey): readonly Node[] {
  if (typeof node === 'boolean') return []
  if (typeof key === 'number') return node.items === undefined || Array.isArray(node.items) ? [] : forms(node.items)
  const found = node.properties?.[String(key)]
  return found === undefined ? [] : forms(found)
}
