// Starts a rig from a copied folder with nothing but Node: node rig/main.ts approve|run|status plan.json
import { parseArgs } from 'node:util'
import { SpokenError } from '@guardband/model'
import { EXIT, approve, run, status } from './commands.ts'
import { plainText } from './plain-text.ts'
import { createTerminal } from './terminal.ts'

async function main(args: readonly string[]): Promise<number> {
  const stop = new AbortController()
  for (const name of ['SIGINT', 'SIGTERM'] as const) process.on(name, () => stop.abort())
  try {
    const { values, positionals } = parseArgs({ args: [...args], options: OPTIONS, allowPositionals: true })
    const [verb, planFile, ...rest] = positionals
    if (planFile === undefined || rest.length > 0) throw usage()
    const terminal = createTerminal(values['each-step'] ? 'steps' : undefined)
    const { folder, code } = values
    if (verb === 'approve') return await approve({ planFile, code }, terminal, stop.signal)
    if (verb === 'run') return await run({ planFile, folder, asRoot: values['as-root'], signal: stop.signal }, terminal)
    if (verb === 'status') return await status({ planFile, folder }, terminal)
    throw usage()
  } catch (cause) {
    if (stop.signal.aborted && !(cause instanceof SpokenError)) return EXIT.stopped
    process.stderr.write(`${cause instanceof SpokenError ? plainText(cause.sentence) : cause instanceof Error ? (cause.stack ?? cause.message) : String(cause)}\n`)
    return EXIT.failed
  }
}

const OPTIONS = {
  code: { type: 'string' },
  folder: { type: 'string' },
  'as-root': { type: 'boolean', default: false },
  'each-step': { type: 'boolean', default: false },
} as const

function usage(): SpokenError {
  return new SpokenError({
    code: 'usage',
    message: 'a rig is told: approve PLAN [--code CODE], run PLAN [--folder FOLDER] [--as-root] [--each-step], or status PLAN [--folder FOLDER].',
  })
}

// Last, as everything above it must stand first.
process.exitCode = await main(process.argv.slice(2))
