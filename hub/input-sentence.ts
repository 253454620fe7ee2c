// What is wrong with an input, as one sentence: name, rule, and what was got.
import type { z } from 'zod'

/** The first fault that the schema found; `input` is what it was given, `what` names the whole ("the body"). */
export function inputSentence(error: z.ZodError, input: unknown, what: string): string {
  const issue = deepest(error.issues[0])
  const name = issue.path.length === 0 ? what : pathText(issue.path)
  const more = error.issues.length > 1 ? ` ${error.issues.length - 1} more like this.` : ''
  if (issue.code === 'unrecognized_keys') return `${name} must have only known fields; got ${issue.keys.slice(0, 5).map((key) => JSON.stringify(key.slice(0, 60))).join(', ')}.${more}`
  return `${name} must ${ruleOf(issue)}; got ${shown(valueAt(input, issue.path))}.${more}`
}

type Issue = z.core.$ZodIssue

/** A union fails in each of its members; the one that got furthest is what the person meant. */
function deepest(issue: Issue): Issue {
  if (issue.code !== 'invalid_union') return issue
  const candidates = issue.errors.flatMap((issues) => issues.slice(0, 1)).map((inner) => deepest({ ...inner, path: [...issue.path, ...inner.path] }))
  return candidates.toSorted((a, b) => b.path.length - a.path.length)[0] ?? issue
}

function ruleOf(issue: Issue): string {
  switch (issue.code) {
    case 'invalid_type':
      return `be ${TYPE_WORDS[issue.expected] ?? issue.expected}`
    case 'too_small':
      return issue.origin === 'string' ? 'not be empty' : issue.origin === 'array' ? `have at least ${issue.minimum}` : `be ${issue.inclusive === true ? 'at least' : 'more than'} ${issue.minimum}`
    case 'too_big':
      return issue.origin === 'string' ? `have at most ${issue.maximum} characters` : issue.origin === 'array' ? `have at most ${issue.maximum}` : `be ${issue.inclusive === true ? 'at most' : 'less than'} ${issue.maximum}`
    case 'invalid_value':
      return `be one of ${issue.values.map((value) => JSON.stringify(value)).join(', ')}`
    case 'invalid_format':
      return issue.message.startsWith('must ') ? issue.message.slice('must '.length) : `be a valid ${issue.format}`
    default:
      return `be right: ${issue.message}`
  }
}

const TYPE_WORDS: Readonly<Record<string, string>> = {
  string: 'text', number: 'a number', int: 'a whole number', boolean: 'true or false', object: 'an object', array: 'a list', nan: 'a number',
}

function pathText(path: readonly PropertyKey[]): string {
  return path.map((key, index) => (typeof key === 'number' ? `[${key}]` : `${index === 0 ? '' : '.'}${String(key)}`)).join('')
}

function valueAt(input: unknown, path: readonly PropertyKey[]): unknown {
  let value = input
  for (const key of path) {
    if (typeof value !== 'object' || value === null || !Object.hasOwn(value, key)) return undefined
    value = Object.getOwnPropertyDescriptor(value, key)?.value
  }
  return value
}

function shown(value: unknown): string {
  if (value === undefined) return 'nothing'
  if (typeof value === 'number') return String(value)
  // Never written out: a list may be nested deeper than the stack.
  if (typeof value === 'object' && value !== null) return Array.isArray(value) ? 'a list' : 'an object'
  const text = JSON.stringify(value)
  return text.length > 60 ? `${text.slice(0, 57)}...` : text
}
