// The verbs of a rig by name: what each is told, and the file that carries it out, loaded when it is called.
import { parseArgs } from 'node:util'
import { SpokenError } from '@guardband/model/errors'
import { machineSources } from './commands/plan-file.ts'
import { createTerminal, type Terminal } from './terminal.ts'

/** Carries out `approve plan.json --code ...` and the like; resolves to the exit status. */
export async function carryOutVerb(args: readonly string[], signal: AbortSignal): Promise<number> {
  const [name] = args
  const verb = Object.hasOwn(VERBS, name ?? '') ? VERBS[name ?? ''] : undefined
  if (verb === undefined) throw usage(Object.values(VERBS))
  const { values, positionals } = parsed(verb, args.slice(1))
  if (positionals.length > 1 || (positionals.length === 0 && verb.plan === 'needed')) throw usage([verb])
  return verb.carryOut({ planFile: positionals[0] ?? '', values, terminal: createTerminal(values['each-step'] === true ? 'steps' : undefined), signal })
}

interface VerbOrder {
  /** Empty where none was named. */
  readonly planFile: string
  readonly values: Values
  readonly terminal: Terminal
  readonly signal: AbortSignal
}

const OPTIONS = {
  code: { type: 'string' },
  folder: { type: 'string' },
  'as-root': { type: 'boolean' },
  'each-step': { type: 'boolean' },
  unattended: { type: 'boolean' },
  alone: { type: 'boolean' },
  fingerprint: { type: 'string' },
  listen: { type: 'string' },
} as const

type Values = ReturnType<typeof parseArgs<{ options: typeof OPTIONS }>>['values']

interface Verb {
  readonly usage: string
  readonly plan: 'needed' | 'may be left out'
  readonly options: readonly (keyof typeof OPTIONS)[]
  readonly carryOut: (order: VerbOrder) => Promise<number>
}

const VERBS: Readonly<Record<string, Verb>> = {
  approve: {
    usage: 'approve PLAN [--code CODE]', plan: 'needed', options: ['code'],
    carryOut: async ({ planFile, values, terminal, signal }) => (await import('./commands/approve.ts')).approve({ planFile, ...values }, terminal, signal),
  },
  run: {
    usage: 'run PLAN [--folder FOLDER] [--as-root] [--each-step] [--unattended] [--alone]', plan: 'needed', options: ['folder', 'as-root', 'each-step', 'unattended', 'alone'],
    carryOut: async ({ planFile, values, terminal, signal }) =>
      (await import('./commands/run.ts')).run({ planFile, ...folderOf(values), asRoot: values['as-root'] === true, attendance: values.unattended === true ? 'unattended' : 'attended', ...(values.alone === true ? { company: 'alone' } : {}), signal }, terminal),
  },
  status: {
    usage: 'status PLAN [--folder FOLDER]', plan: 'needed', options: ['folder'],
    carryOut: async ({ planFile, values, terminal }) => (await import('./commands/status.ts')).status({ planFile, ...folderOf(values) }, terminal),
  },
  pair: {
    usage: 'pair URL --code CODE --fingerprint DIGITS', plan: 'needed', options: ['code', 'fingerprint'],
    carryOut: async ({ planFile, values, terminal }) => (await import('./sync/commands.ts')).pair({ url: planFile, code: values.code, fingerprint: values.fingerprint }, terminal, machineSources()),
  },
  paired: {
    usage: 'paired', plan: 'may be left out', options: [],
    carryOut: async ({ terminal }) => (await import('./sync/commands.ts')).listPlaces(terminal),
  },
  unpair: {
    usage: 'unpair URL', plan: 'needed', options: [],
    carryOut: async ({ planFile, terminal }) => (await import('./sync/commands.ts')).unpair(planFile, terminal, machineSources()),
  },
  sync: {
    usage: 'sync FOLDER', plan: 'needed', options: [],
    carryOut: async ({ planFile, terminal }) => (await import('./sync/commands.ts')).sync([planFile], terminal, machineSources()),
  },
  install: {
    usage: 'install PLAN [--folder FOLDER] [--as-root]', plan: 'needed', options: ['folder', 'as-root'],
    carryOut: async ({ planFile, values, terminal }) => (await import('./commands/install.ts')).install({ planFile, ...folderOf(values), asRoot: values['as-root'] === true }, terminal),
  },
  uninstall: {
    usage: 'uninstall PLAN', plan: 'needed', options: [],
    carryOut: async ({ planFile, terminal }) => (await import('./commands/install.ts')).uninstall({ planFile }, terminal),
  },
  doctor: {
    usage: 'doctor [PLAN] [--folder FOLDER]', plan: 'may be left out', options: ['folder'],
    carryOut: async ({ planFile, values, terminal }) => (await import('./commands/doctor.ts')).doctor({ ...(planFile === '' ? {} : { planFile }), ...folderOf(values) }, terminal),
  },
  companion: {
    usage: 'companion WATCH [--listen ADDRESS:PORT] [--folder FOLDER] [--as-root]', plan: 'needed', options: ['listen', 'folder', 'as-root'],
    carryOut: async ({ planFile, values, terminal, signal }) => (await import('./commands/companion.ts')).companion({ watchFile: planFile, listen: values.listen, folder: values.folder, asRoot: values['as-root'] === true, signal }, terminal),
  },
  stop: {
    usage: 'stop PLAN [--folder FOLDER]', plan: 'needed', options: ['folder'],
    carryOut: async ({ planFile, values, terminal }) => (await import('./commands/stop.ts')).stop({ planFile, ...folderOf(values) }, terminal),
  },
}

function folderOf({ folder }: Values): { readonly folder?: string } {
  return folder === undefined ? {} : { folder }
}

function parsed({ options, usage: words }: Verb, args: readonly string[]): { readonly values: Values; readonly positionals: readonly string[] } {
  try {
    const { values, positionals } = parseArgs({ args: [...args], options: OPTIONS, allowPositionals: true })
    const stray = Object.keys(values).find((name) => !options.some((option) => option === name))
    if (stray === undefined) return { values, positionals }
    throw new Error(`--${stray} says nothing here`)
  } catch (cause) {
    throw new SpokenError({ code: 'usage', message: `${cause instanceof Error ? cause.message : String(cause)}; a rig is told: ${words}.` })
  }
}

function usage(verbs: readonly Verb[]): SpokenError {
  return new SpokenError({ code: 'usage', message: `a rig is told: ${verbs.map((verb) => verb.usage).join('; ')}.` })
}
