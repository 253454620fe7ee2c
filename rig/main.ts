// Starts a rig from a copied folder with nothing but Node: node rig/main.ts VERB plan.json; verbs.ts lists the verbs.
import { startLean } from './lean-start.ts'

async function main(args: readonly string[]): Promise<number> {
  if (args[0] === 'run') startLean(args)
  const [{ carryOutVerb }, { EXIT }, { plainText }, { SpokenError }] = await Promise.all([import('./verbs.ts'), import('./commands/exit.ts'), import('./plain-text.ts'), import('@guardband/model/errors')])
  const stop = new AbortController()
  for (const name of ['SIGINT', 'SIGTERM', 'SIGHUP'] as const) process.on(name, () => stop.abort())
  try {
    return await carryOutVerb(args, stop.signal)
  } catch (cause) {
    if (stop.signal.aborted && !(cause instanceof SpokenError)) return EXIT.stopped
    process.stderr.write(`${cause instanceof SpokenError ? plainText(cause.sentence) : cause instanceof Error ? (cause.stack ?? cause.message) : String(cause)}\n`)
    return EXIT.failed
  }
}

// Last, as everything above it must stand first.
process.exitCode = await main(process.argv.slice(2))
