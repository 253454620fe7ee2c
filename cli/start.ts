// `guardband start`: serves a workspace as a page and opens it; where a hub already runs for it, opens that one.
import { homedir } from 'node:os'
import { dirname, join, resolve } from 'node:path'
import { setTimeout as wait } from 'node:timers/promises'
import { askForUrl, lanAddresses, SECOND_PORT, startHub, type Hub } from '@guardband/hub'
import { isLab, openLab } from '@guardband/lab'
import { SpokenError } from '@guardband/model'
import { ensureDemo } from './demo.ts'
import { keysFolder } from './keys-folder.ts'
import { openExported } from './open-exported.ts'
import { writeOpeningPage, type OpeningPage } from './opening-page.ts'
import { slugOf } from './slug.ts'
import type { Terminal } from './terminal.ts'
import { labSources, makeWorkspace, refuseDamaged } from './workspace.ts'

export interface StartOptions {
  readonly folder: string | undefined
  readonly port: number | undefined
  readonly browser: 'open' | 'leave'
  readonly own: string | undefined
  /** Where phones and rigs are listened for: `ADDRESS:PORT`, either alone, or empty for the first address of the network; undefined for nowhere. */
  readonly phones: string | undefined
}

const DEFAULT_PORT = 4890

export async function start(terminal: Terminal, options: StartOptions): Promise<void> {
  const tree = dirname(import.meta.dirname)
  const folder = options.folder === undefined ? join(tree, 'demo') : resolve(terminal.folder, options.folder)
  if (options.folder === undefined) await ensureDemo(terminal, folder)
  if (!isLab(folder)) {
    refuseDamaged(folder)
    throw new SpokenError({ code: 'no-lab', place: folder, message: 'there is no workspace here.', mend: `Make one: npx guardband new ${options.folder ?? 'FOLDER'} --name "NAME".` })
  }
  const running = await askForUrl(folder, terminal)
  if (running !== undefined) {
    terminal.err('This workspace is open already, at:')
    const shown = await show(terminal, { url: running, folder, browser: options.browser })
    // The browser needs the page for longer than this command has to do.
    if (shown === undefined) return
    const over = new AbortController()
    await Promise.race([terminal.ended(), wait(BROWSER_MS, undefined, { signal: over.signal }).catch(() => undefined)])
    over.abort()
    return shown.remove()
  }

  const hub = await serve(terminal, options, { tree, folder })
  if (options.phones !== undefined) await listenForPhones(terminal, hub, options.phones)
  const ended = terminal.ended()
  const shown = await show(terminal, { url: hub.url, folder, browser: options.browser })
  if (shown !== undefined) setTimeout(shown.remove, BROWSER_MS).unref()
  await ended
  shown?.remove()
  await hub.close()
}

async function serve(terminal: Terminal, options: StartOptions, { tree, folder }: { readonly tree: string; readonly folder: string }): Promise<Hub> {
  const port = options.port ?? portOf(terminal.env['PORT'])
  const own = resolve(terminal.folder, options.own ?? join(homedir(), 'guardband'))
  const lab = openLab(folder, labSources(terminal))
  try {
    return await startHub({
      lab,
      host: '127.0.0.1',
      port,
      webFolder: join(tree, 'web', 'dist'),
      sources: { now: terminal.now, fillRandom: terminal.fillRandom, say: terminal.err },
      who: terminal.who,
      keysFolder: keysFolder(terminal.env),
      // A promise from the start, so that what it throws is what it rejects with.
      createOwnLab: async (input) => makeWorkspace(terminal, join(own, slugOf(input.name)), input),
      openExported: (input) => openExported(terminal, own, input),
    })
  } catch (error) {
    await lab.close()
    throw error instanceof SpokenError && error.code === 'port-taken' ? portTaken(port, options.folder) : error
  }
}

/** The hub goes on without phones when it can't listen for them: the day's work is on the page. */
async function listenForPhones(terminal: Terminal, hub: Hub, text: string): Promise<void> {
  try {
    const url = await hub.listenForPhones(phonesAt(text))
    terminal.out(`For phones and rigs: ${url} (let them in on the page, Lab, Devices)`)
  } catch (error) {
    if (!(error instanceof SpokenError)) throw error
    terminal.err(`Phones can't reach this hub: ${error.sentence}`)
  }
}

function phonesAt(text: string): { readonly address: string; readonly port: number } {
  const parts = /^(?:(\d{1,3}(?:\.\d{1,3}){3}))?(?:(?:^|:)(\d{1,5}))?$/.exec(text)
  const port = Number(parts?.[2] ?? SECOND_PORT)
  if (parts === null || port < 1 || port > 65_535) throw new SpokenError({ code: 'phones-address', message: `--phones takes ADDRESS:PORT, an address or a port; got "${text.slice(0, 60)}".`, mend: 'Such as --phones 192.168.1.20:4891.' })
  const address = parts[1] ?? lanAddresses()[0]
  if (address === undefined) throw new SpokenError({ code: 'no-network', message: 'this machine is on no network.', mend: 'Connect it, then start again.' })
  return { address, port }
}

/** The command that was typed, with a port that may be free. */
function portTaken(port: number, folder: string | undefined): SpokenError {
  const other = port < 65_535 ? port + 1 : port - 1
  const command = folder === undefined ? `PORT=${other} npm start` : `npx guardband start ${folder} --port ${other}`
  return new SpokenError({ code: 'port-taken', message: `port ${port} is taken by another program.`, mend: `Choose another: ${command}.` })
}

function portOf(text: string | undefined): number {
  if (text === undefined || text === '') return DEFAULT_PORT
  const port = Number(text)
  if (/^\d{1,5}$/.test(text) && port <= 65_535) return port
  throw new SpokenError({ code: 'port-number', message: `PORT must be a whole number from 0 to 65535; got "${text}".`, mend: `Leave it out for ${DEFAULT_PORT}.` })
}

/** Returns the page that the browser was given, for as long as it needs it. */
async function show(terminal: Terminal, { url, folder, browser }: { readonly url: string; readonly folder: string; readonly browser: 'open' | 'leave' }): Promise<OpeningPage | undefined> {
  terminal.out(`Guardband: ${url}`)
  if (browser === 'leave') return undefined
  const { default: open } = await import('open')
  let page: OpeningPage | undefined
  try {
    page = writeOpeningPage(folder, url)
    const child = await open(page.file)
    // A machine without a browser: the address is on the terminal already.
    child.on('error', () => undefined)
    child.unref()
    return page
  } catch {
    page?.remove()
    terminal.err('No browser could be opened; open the address above yourself.')
    return undefined
  }
}

/** For a browser that has yet to start; the address on the terminal stays good for longer. */
const BROWSER_MS = 20_000
