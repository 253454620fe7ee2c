// The one command. Each subcommand is loaded when it is called, so that what runs on a rig never loads the workspace's code.
import { Command, InvalidArgumentError, Option } from 'commander'
import { keepCompiled } from './keep-compiled.ts'
import { runCommand } from './run-command.ts'
import type { TakeFlags } from './take-choices.ts'
import { systemTerminal } from './terminal.ts'

const terminal = systemTerminal(process)
const program = new Command('npx guardband')
  .description('Plans bench time, records runs, and says how much faster one tune or part is than another, with its uncertainty.')
  .showHelpAfterError('(npx guardband --help shows the commands)')
const inFolder = () => new Option('--in <folder>', 'workspace; otherwise GUARDBAND_LAB, otherwise the current folder')

program
  .command('start [folder]')
  .description('open a workspace as a page in the browser; without a folder, the simulated demo')
  .option('--port <number>', 'port on 127.0.0.1; otherwise PORT, otherwise 4890', portNumber)
  .option('--no-open', "print the address only, don't open a browser")
  .option('--phones [address:port]', 'listen for phones and rigs on the network too (default: its first address, port 4891)')
  .option('--own <folder>', 'where workspaces made from the page go (default: guardband in the home folder)')
  .action((folder: string | undefined, options: { port?: number; open: boolean; own?: string; phones?: string | true }) =>
    inWorkspace(async () => (await import('./start.ts')).start(terminal, { folder, port: options.port, browser: options.open ? 'open' : 'leave', own: options.own, phones: options.phones === true ? '' : options.phones })),
  )

program
  .command('new <folder>')
  .description('make an empty workspace')
  .requiredOption('--name <name>', 'name of the lab')
  .option('--currency <sign>', 'shown with amounts', '')
  .action((folder: string, options: { name: string; currency: string }) =>
    inWorkspace(async () => (await import('./new-workspace.ts')).newWorkspace(terminal, { folder, ...options })),
  )

program
  .command('take <file...>')
  .description('take in runs: tables (CSV and the like), journals, or folders of journals')
  .option('--to <folder>', 'workspace; otherwise GUARDBAND_LAB, otherwise the current folder')
  .option('--preview', 'only say what would be taken (tables)')
  .option('--encoding <name>', 'utf-8, utf-16le, utf-16be or windows-1252')
  .option('--separator <name>', 'comma, semicolon, tab or bar')
  .option('--header <line>', 'the line that names the columns', wholeNumber)
  .option('--decimal <mark>', 'what stands before decimals: point or comma')
  .option('--thousands <mark>', 'what stands between thousands: none, point, comma, space or apostrophe')
  .option('--dates <order>', 'day-first, month-first or year-first')
  .option('--zone <zone>', 'of times that do not say theirs: UTC, +01:00 or Europe/Berlin')
  .option('--starts <rule>', 'where no column names the starts: each-line, each-sample-and-tune, each-repeat or whole-file')
  .option('--columns-are <what>', 'of columns of figures: workloads, tunes, samples, repeats or measures')
  .option('--word <word=outcome>', 'what a word of the table means; may be given several times', several)
  .option('--all <field=name>', 'what all lines share, such as sample=A7 or rig="north bench"; may be given several times', several)
  .option('--remember <name>', 'read tables with the same headers like this from now on')
  .action((files: string[], { to, preview, remember, ...flags }: TakeFlags & { to?: string; preview?: true; remember?: string }) =>
    inWorkspace(async () => {
      const [{ take }, { choicesFrom }] = await Promise.all([import('./take.ts'), import('./take-choices.ts')])
      return take(terminal, { files, to, only: preview === true ? 'preview' : 'take', choices: choicesFrom(flags), remember })
    }),
  )

program
  .command('questions')
  .description('list the questions with their answers')
  .addOption(inFolder())
  .action((options: { in?: string }) => inWorkspace(async () => (await import('./questions.ts')).questions(terminal, options)))

program
  .command('tunes [a] [b]')
  .description('list the tunes, or say how B differs from A')
  .addOption(inFolder())
  .action((a: string | undefined, b: string | undefined, options: { in?: string }) => inWorkspace(async () => (await import('./tunes.ts')).tunes(terminal, { ...options, ...(a === undefined ? {} : { a }), ...(b === undefined ? {} : { b }) })))

program
  .command('ask [question]')
  .description('answer a question by its number or id, or a new one with --faster and --than')
  .addOption(inFolder())
  .option('--faster <name>', 'side B: a tune, a part, or "part at tune"')
  .option('--than <name>', 'side A, which B is compared with')
  .option('--suite <name>', 'workloads to compare over, where the workspace has several suites')
  .option('--smallest <percent>', 'smallest gain that matters, fixed now', percent)
  .addOption(new Option('--scope <which>', 'speak about these samples, or about samples like these').choices(['these', 'like']))
  .option('--json', 'print the whole answer as JSON')
  .action((question: string | undefined, options: { in?: string; faster?: string; than?: string; suite?: string; smallest?: number; scope?: 'these' | 'like'; json?: true }) =>
    inWorkspace(async () => (await import('./ask.ts')).ask(terminal, { question, ...options, form: options.json === true ? 'json' : 'text' })),
  )

program
  .command('report <question...>')
  .description('publish answers as a one-file report and print its path')
  .addOption(inFolder())
  .option('--title <title>', 'title of the report')
  .action((questions: string[], options: { in?: string; title?: string }) =>
    inWorkspace(async () => (await import('./publish-report.ts')).publishReport(terminal, { questions, ...options })),
  )

program
  .command('log')
  .description('show the change log, newest first')
  .addOption(inFolder())
  .option('--count <number>', 'how many changes', wholeNumber, 50)
  .action((options: { in?: string; count: number }) => inWorkspace(async () => (await import('./change-log.ts')).changeLog(terminal, options)))

program
  .command('undo <number>')
  .description('take a change back, by its number in the log, as a new change')
  .addOption(inFolder())
  .option('--why <reason>', 'kept in the change log', '')
  .action((seq: string, options: { in?: string; why: string }) =>
    inWorkspace(async () => (await import('./undo.ts')).undo(terminal, { seq, ...options })),
  )

program
  .command('check')
  .description('hold database, hashes, journals, reports and evidence of a workspace against each other')
  .addOption(inFolder())
  .action((options: { in?: string }) => inWorkspace(async () => (await import('./check.ts')).check(terminal, options)))

program
  .command('export <file>')
  .description('write everything into one file: records as JSON or CSV, or the whole workspace as an archive')
  .addOption(new Option('--as <form>', 'what to write').choices(['json', 'csv', 'archive']).makeOptionMandatory())
  .addOption(inFolder())
  .action((file: string, options: { as: 'json' | 'csv' | 'archive'; in?: string }) => inWorkspace(async () => (await import('./export.ts')).exportWorkspace(terminal, { file, ...options })))

program
  .command('import <file> <into>')
  .description('make a new workspace from a file that export wrote')
  .action((file: string, into: string) => inWorkspace(async () => (await import('./import.ts')).importWorkspace(terminal, { file, into })))

program
  .command('backup [to]')
  .description('copy a workspace safely, also while it is open; without a folder, beside it')
  .addOption(inFolder())
  .action((to: string | undefined, options: { in?: string }) => inWorkspace(async () => (await import('./backup.ts')).backup(terminal, { ...options, ...(to === undefined ? {} : { to }) })))

const rig = program.command('rig').description('on the machine under test: approve a plan, run it, ask how far it is')

rig
  .command('approve <plan>')
  .description('list everything that the plan would run, and let it')
  .option('--code <code>', 'the code that the listing showed')
  .action((plan: string, options: { code?: string }) => runCommand(terminal, async () => (await import('./rig-commands.ts')).rigApprove(terminal, plan, options)))

rig
  .command('run <plan>')
  .description('carry out the plan from where it stands')
  .option('--folder <folder>', 'where its journals go (default: beside the plan)')
  .option('--as-root', 'run although this is the superuser')
  .option('--each-step', 'say each step, also when piped')
  .option('--unattended', 'for services: ask nobody, and stay stopped where rig stop was said')
  .option('--alone', 'tell no hub and no companion')
  .action((plan: string, options: { folder?: string; asRoot?: true; eachStep?: true; unattended?: true; alone?: true }) =>
    runCommand(terminal, async () => (await import('./rig-commands.ts')).rigRun(terminal, plan, options)),
  )

rig
  .command('status <plan>')
  .description('say what is finished, in flight and remaining')
  .option('--folder <folder>', 'where its journals are (default: beside the plan)')
  .action((plan: string, options: { folder?: string }) => runCommand(terminal, async () => (await import('./rig-commands.ts')).rigStatus(terminal, plan, options)))

rig
  .command('install <plan>')
  .description('let the plan go on by itself after each start of the machine (systemd)')
  .option('--folder <folder>', 'where its journals go (default: beside the plan)')
  .option('--as-root', 'let it run as the superuser')
  .action((plan: string, options: { folder?: string; asRoot?: true }) => runCommand(terminal, async () => (await import('./rig-commands.ts')).rigInstall(terminal, plan, options)))

rig
  .command('uninstall <plan>')
  .description('take away what install made')
  .action((plan: string) => runCommand(terminal, async () => (await import('./rig-commands.ts')).rigUninstall(terminal, plan)))

rig
  .command('doctor [plan]')
  .description('say what this machine can and can\'t report, and whether the plan could run')
  .option('--folder <folder>', 'where its journals go (default: beside the plan)')
  .action((plan: string | undefined, options: { folder?: string }) => runCommand(terminal, async () => (await import('./rig-commands.ts')).rigDoctor(terminal, plan, options)))

rig
  .command('stop <plan>')
  .description('ask the rig at work on a plan to stop before its next step, and not to go on by itself')
  .option('--folder <folder>', 'where its journals are (default: beside the plan)')
  .action((plan: string, options: { folder?: string }) => runCommand(terminal, async () => (await import('./rig-commands.ts')).rigStop(terminal, plan, options)))

rig
  .command('companion <watch>')
  .description('watch over a rig from this second machine: hold its journal, answer it, act on its silence')
  .option('--listen <address:port>', 'where rigs reach it (default: the first address of the network, port 4892)')
  .option('--folder <folder>', 'where it keeps what it holds (default: beside the watch file)')
  .option('--as-root', 'run although this is the superuser')
  .action((watch: string, options: { listen?: string; folder?: string; asRoot?: true }) => runCommand(terminal, async () => (await import('./rig-commands.ts')).rigCompanion(terminal, watch, options)))

rig
  .command('pair <url>')
  .description('let this rig in at a hub or companion: https://ADDRESS:PORT')
  .option('--code <code>', 'the code that is shown there')
  .option('--fingerprint <digits>', 'the fingerprint beside it')
  .action((url: string, options: { code?: string; fingerprint?: string }) => runCommand(terminal, async () => (await import('./rig-commands.ts')).rigPair(terminal, url, options)))

rig
  .command('paired')
  .description('say where this rig is let in')
  .action(() => runCommand(terminal, async () => (await import('./rig-commands.ts')).rigPaired(terminal)))

rig
  .command('unpair <url>')
  .description('forget a hub or companion')
  .action((url: string) => runCommand(terminal, async () => (await import('./rig-commands.ts')).rigUnpair(terminal, url)))

rig
  .command('sync <folders...>')
  .description('hand over what rig folders, or folders of journals, hold')
  .action((folders: string[]) => runCommand(terminal, async () => (await import('./rig-commands.ts')).rigSync(terminal, folders)))

await program.parseAsync()

function inWorkspace(work: () => Promise<void>): Promise<void> {
  keepCompiled()
  return runCommand(terminal, work)
}

function portNumber(text: string): number {
  const port = Number(text)
  if (/^\d{1,5}$/.test(text) && port <= 65_535) return port
  throw new InvalidArgumentError('A port is a whole number from 0 to 65535.')
}

function percent(text: string): number {
  // A decimal comma counts as on the page.
  const value = Number(text.replace(/\s*%$/, '').replace(/^(\d*),(\d+)$/, '$1.$2'))
  if (text.trim() !== '' && value > 0 && value <= 100) return value
  throw new InvalidArgumentError('It must be more than 0 and at most 100.')
}

function several(text: string, before: readonly string[] = []): readonly string[] {
  return [...before, text]
}

function wholeNumber(text: string): number {
  if (/^[1-9]\d{0,8}$/.test(text)) return Number(text)
  throw new InvalidArgumentError('It must be a whole number above 0.')
}
