/** Runs checks one after the other and keeps quiet about those that hold. */
import { spawn } from 'node:child_process'
import type { Step } from './steps.ts'

export type StepEnd = { readonly name: string; readonly held: boolean; readonly seconds: number }

/** Goes on after a failure, so that one run shows everything; what a failed check printed goes to `print`. */
export async function runSteps(
  steps: readonly Step[],
  context: { readonly root: string; readonly print: (text: string) => void; readonly now: () => number },
): Promise<readonly StepEnd[]> {
  const ends: StepEnd[] = []
  for (const { name, args } of steps) {
    const began = context.now()
    const { code, output } = await runNode(args, context.root)
    const seconds = (context.now() - began) / 1000
    if (code !== 0) context.print(`\n--- ${name}\n${output.trimEnd()}\n`)
    ends.push({ name, held: code === 0, seconds })
  }
  return ends
}

/** One line a check, for the table at the end. */
export function describeStep({ name, held, seconds }: StepEnd): string {
  return `${name.padEnd(20)} ${(held ? 'holds' : 'FAILS').padEnd(8)} ${seconds.toFixed(1).padStart(6)} s`
}

function runNode(args: readonly string[], cwd: string): Promise<{ readonly code: number; readonly output: string }> {
  return new Promise((resolve, reject) => {
    const child = spawn(process.execPath, args, { cwd, stdio: ['ignore', 'pipe', 'pipe'] })
    let output = ''
    for (const stream of [child.stdout, child.stderr]) stream.on('data', (part) => (output += String(part)))
    child.on('error', reject)
    child.on('close', (code) => resolve({ code: code ?? 1, output }))
  })
}
