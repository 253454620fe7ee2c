// What a person can tell a rig about the places that it hands its journals to: let it in, list, leave, hand over now.
import { readdirSync, statSync } from 'node:fs'
import { hostname } from 'node:os'
import { basename, dirname, join, resolve } from 'node:path'
import { pairRig } from '@guardband/link/pinned-client'
import { SpokenError, counted, fixed, planHash, type Plan } from '@guardband/model'
import { nodeDisk } from '../journal-disk.ts'
import type { RigSources } from '../rig-context.ts'
import { askToStop } from '../stop-request.ts'
import { keptFolderOf } from '../rig-folder.ts'
import type { Terminal } from '../terminal.ts'
import { createPlaceClient, type PlaceClient } from './place-client.ts'
import { addPlace, ownPlaces, readPlaces, removePlace, type Place } from './places.ts'
import { pushFolder, pushJournal, type Pushed } from './push.ts'
import { createRigLink, type RigLink } from './rig-link.ts'

export interface PairArgs {
  /** `https://ADDRESS:PORT` */
  readonly url: string
  readonly code: string | undefined
  readonly fingerprint: string | undefined
}

/** Lets this rig in at a hub or companion, whose certificate is pinned from then on. */
export async function pair({ url, code, fingerprint }: PairArgs, terminal: Terminal, { newId, now, monotonic }: RigSources): Promise<number> {
  const origin = originOf(url)
  if (code === undefined || fingerprint === undefined) {
    throw new SpokenError({ code: 'pair-needs', place: origin, message: `pairing needs the code${fingerprint === undefined ? ' and the fingerprint' : ''} that are shown there.`, mend: 'On the hub\'s page they stand under Lab, Devices: --code XXXX-XXXX --fingerprint "...".' })
  }
  const digits = fingerprint.replaceAll(/[\s:-]/g, '').toLowerCase()
  const token = await reaching(origin, () => pairRig({ url: origin, fingerprint: digits, code, name: hostname() }))
  const client = createPlaceClient({ origin, fingerprint: digits, token, name: origin }, { now, monotonic })
  try {
    // The code is used up: a line that breaks here must not cost the person another one.
    const { name } = await client.hello().catch(() => ({ name: origin }))
    addPlace(ownPlaces(), { origin, fingerprint: digits, token, name }, newId)
    terminal.say(`Let in at "${name}" (${origin}). Plans that run here hand their journals over to it.`)
  } finally {
    client.close()
  }
  return 0
}

export function listPlaces(terminal: Terminal): number {
  const places = readPlaces(ownPlaces())
  if (places.length === 0) terminal.say('This rig is let in nowhere. Its journals stay here; a person can take them in with "guardband take".')
  for (const { name, origin, fingerprint } of places) terminal.say(`"${name}"  ${origin}  certificate ${fingerprint.slice(0, 16)}…`)
  return 0
}

export function unpair(url: string, terminal: Terminal, { newId }: RigSources): number {
  const origin = originOf(url)
  removePlace(ownPlaces(), origin, newId)
  terminal.say(`${origin} is forgotten here. At the hub, Lab, Devices, take its token back too.`)
  return 0
}

/** Hands over all that stands in these rig folders, journal folders or journals, to every place. */
export async function sync(paths: readonly string[], terminal: Terminal, sources: RigSources): Promise<number> {
  const places = readPlaces(ownPlaces())
  if (places.length === 0) throw new SpokenError({ code: 'no-place', message: 'this rig is let in nowhere.', mend: 'Pair it first: rig pair https://ADDRESS:PORT --code XXXX-XXXX --fingerprint "...".' })
  const found = paths.map((path) => journalsAt(resolve(path)))
  const faults: SpokenError[] = []
  for (const place of places) {
    try {
      await handTo(place, found, { terminal, sources })
    } catch (cause) {
      // One that is gone must not keep the others from what they lack.
      if (!(cause instanceof SpokenError)) throw cause
      faults.push(cause)
    }
  }
  const last = faults.pop()
  if (last === undefined) return 0
  for (const { sentence } of faults) terminal.say(sentence)
  throw last
}

async function handTo(place: Place, found: readonly ReturnType<typeof journalsAt>[], { terminal, sources }: { readonly terminal: Terminal; readonly sources: RigSources }): Promise<void> {
  const client = createPlaceClient(place, sources, PATIENCE_MS)
  const sent = new Set<string>()
  try {
    const all: Pushed[] = []
    for (const { folder, file, keptFolder } of found) {
      all.push(await reaching(place.origin, () => (file === null ? pushFolder(client, nodeDisk, { journalFolder: folder, keptFolder, sent }) : pushJournal(client, nodeDisk, { path: file, keptFolder, sent }))))
    }
    for (const remark of all.flatMap(({ remarks }) => remarks)) terminal.say(remark)
    const [journals, bytes, runs] = (['journals', 'bytes', 'runs'] as const).map((key) => all.reduce((total, pushed) => total + pushed[key], 0))
    terminal.say(`"${place.name}": ${counted(journals, 'journal')} handed over, ${fixed(bytes / 1024, 0)} KiB of them new; ${counted(runs, 'run')} new to it`)
  } finally {
    client.close()
  }
}

export interface LinkOrder {
  readonly plan: Plan
  readonly rigFolder: string
  readonly journalFolder: string
  readonly sources: RigSources
  readonly terminal: Terminal
}

/** For a plan that is about to run. */
export function linkFor(order: LinkOrder): RigLink | null {
  const { plan, rigFolder, journalFolder, sources, terminal } = order
  let places: readonly Place[]
  try {
    places = readPlaces(ownPlaces())
  } catch (cause) {
    // Journals can be handed over later; a night that did not begin is lost.
    terminal.say(`caution: ${cause instanceof Error ? cause.message : String(cause)} The plan runs alone.`)
    return null
  }
  if (places.length === 0) return null
  const clients: readonly PlaceClient[] = places.map((place) => createPlaceClient(place, sources))
  return createRigLink({
    clients, rig: plan.rig, plan: { id: plan.id, title: plan.title, hash: planHash(plan) }, journalFolder, keptFolder: keptFolderOf(rigFolder), disk: nodeDisk, sources,
    onStop: () => askToStop(rigFolder),
    say: terminal.say,
  })
}

/** For a companion: what it wrote goes to the hubs that let it in, as soon as it can and without holding it up. */
export function pushOwnLater(journalFolder: string, sources: RigSources, terminal: Terminal): { readonly push: () => void; readonly close: () => Promise<void> } {
  const clients = readPlaces(ownPlaces()).map((place) => createPlaceClient(place, sources))
  const sent = new Set<string>()
  let queue: Promise<unknown> = Promise.resolve()
  const pushAll = async (): Promise<void> => {
    for (const client of clients) await pushFolder(client, nodeDisk, { journalFolder, keptFolder: journalFolder, sent }).catch((cause: unknown) => terminal.say(`${client.place.name} does not answer (${cause instanceof Error ? cause.message : String(cause)}); it gets what it lacks later`))
  }
  const push = (): void => {
    queue = queue.then(pushAll)
  }
  return {
    push,
    close: async () => {
      if (clients.length > 0) push()
      await queue
      for (const client of clients) client.close()
    },
  }
}

/** A large journal over a weak radio takes its time when a person waits for it. */
const PATIENCE_MS = 120_000

function originOf(url: string): string {
  try {
    const { protocol, origin } = new URL(url)
    if (protocol === 'https:') return origin
  } catch {
    // Said below.
  }
  throw new SpokenError({ code: 'place-address', message: `the address must be https://ADDRESS:PORT, as the hub or companion shows it; got ${url.slice(0, 100)}.` })
}

async function reaching<Out>(origin: string, work: () => Promise<Out>): Promise<Out> {
  try {
    return await work()
  } catch (cause) {
    if (cause instanceof SpokenError) throw cause
    throw new SpokenError({ code: 'not-reached', place: origin, message: `nothing that speaks to rigs answers there (${cause instanceof Error ? cause.message : String(cause)}).`, mend: 'Is it on, its second listener too (Lab, Devices), and on the same network?' })
  }
}

/** A rig folder holds `journals/` and `kept/`; a folder of journals and a single one are as good. */
function journalsAt(path: string): { readonly folder: string; readonly file: string | null; readonly keptFolder: string } {
  const found = statSync(path, { throwIfNoEntry: false })
  if (found === undefined) throw new SpokenError({ code: 'no-file', place: path, message: 'there is nothing here.', mend: 'Name a rig folder (rig-PLAN), a folder of journals, or a journal.' })
  if (!found.isDirectory()) return { folder: dirname(path), file: path, keptFolder: join(dirname(path), '..', 'kept') }
  const own = readdirSync(path).includes('journals')
  const folder = own ? join(path, 'journals') : path
  if (!readdirSync(folder).some((name) => name.endsWith('.journal'))) throw new SpokenError({ code: 'no-journals', place: path, message: 'no journal lies here.', mend: `Name the folder that the rig wrote: it is called rig-PLAN, and holds journals/. Got ${basename(path)}.` })
  return { folder, file: null, keptFolder: own ? keptFolderOf(path) : join(path, '..', 'kept') }
}
