// What differs between two states of one record, field by field, in words: ids as names, settings as people write them, moments in UTC.
import { exact, scopeText, settingText, unitText, type FieldDifference, type LabRecord } from '@guardband/model'
import { describeRecord, type Look } from './describe.ts'
import { momentName } from './start-name.ts'

export function differencesOf(before: LabRecord, after: LabRecord, look: Look): readonly FieldDifference[] {
  const old = fieldsOf(before, look)
  const own = fieldsOf(after, look)
  return [...new Set([...old.keys(), ...own.keys()])].flatMap((field) => {
    const pair = { before: old.get(field) ?? null, after: own.get(field) ?? null }
    return pair.before === pair.after ? [] : [{ field, ...pair }]
  })
}

type Fields = Map<string, string>

interface Words {
  readonly look: Look
  /** Units of a run's measures, by name. */
  readonly units: ReadonlyMap<string, string>
}

function fieldsOf(record: LabRecord, look: Look): Fields {
  const workload = record.kind === 'run' ? look(record.workloadId) : undefined
  const words: Words = { look, units: new Map(workload?.kind === 'workload' ? workload.measures.map(({ name, unit }) => [name, unitText(unit)]) : []) }
  const fields: Fields = new Map()
  const { kind: _kind, id: _id, ...rest } = record
  addFieldsInto(fields, [], rest, words)
  return fields
}

function addFieldsInto(fields: Fields, path: readonly string[], value: object, words: Words): void {
  const entries = (Object.entries(value) as readonly (readonly [string, unknown])[]).filter(([, own]) => own !== undefined)
  // What was done comes before who did it and when.
  for (const [key, own] of entries.toSorted(([a], [b]) => LAST.indexOf(a) - LAST.indexOf(b))) {
    const ownPath = UNSPOKEN.has(key) ? path : [...path, fieldName(key)]
    if (Array.isArray(own) && own.some((item) => typeof item === 'object' && item !== null && !Array.isArray(item))) addListInto(fields, path, key, own as readonly object[], words)
    else if (isPlain(own) && !('shape' in own)) addFieldsInto(fields, ownPath, own, words)
    else if (!Array.isArray(own) || own.length > 0) put(fields, ownPath.join(', '), wordsFor(own, words))
  }
}

function addListInto(fields: Fields, path: readonly string[], key: string, items: readonly object[], words: Words): void {
  items.forEach((item, index) => {
    const { name, text } = elementWords(key, { ...item }, index, words)
    put(fields, [...path, name].join(', '), text)
  })
}

/** Two elements of one name are told apart by their place. */
function put(fields: Fields, field: string, text: string): void {
  let name = field
  for (let number = 2; fields.has(name); number++) name = `${field} (${number})`
  fields.set(name, text.length > LONGEST_TEXT ? `${text.slice(0, LONGEST_TEXT - CUT.length)}${CUT}` : text)
}

function elementWords(list: string, item: Record<string, unknown>, index: number, words: Words): { readonly name: string; readonly text: string } {
  const { key, scope, asked, value, known, name, at, workloadId, slot, position, ...rest } = item
  if (typeof key === 'string') {
    const where = isPlain(scope) && typeof scope['level'] === 'string' ? scopeText({ level: scope['level'] as 'core', ...(typeof scope['index'] === 'string' ? { index: scope['index'] } : {}) }) : ''
    return { name: `setting ${key}${where}`, text: `${wordsFor(asked ?? value, words)}${typeof known === 'string' ? ` (${known})` : ''}` }
  }
  if (list === 'measures' && typeof name === 'string' && typeof value === 'number') {
    const unit = words.units.get(name) ?? ''
    return { name, text: `${exact(value)}${unit === '' ? '' : ` ${unit}`}` }
  }
  const label = typeof name === 'string' ? name : workloadId !== undefined ? wordsFor(workloadId, words) : slot !== undefined ? [slot, position].filter((part) => typeof part === 'string').join(' ') : typeof at === 'string' ? wordsFor(at, words) : String(index + 1)
  const own = { ...rest, ...(value === undefined ? {} : { value }), ...(known === undefined ? {} : { known }), ...(label !== undefined && typeof name !== 'string' && workloadId === undefined && slot === undefined ? {} : { at }) }
  return { name: `${ONE_OF[list] ?? fieldName(list)} ${label}`, text: objectWords(own, words) }
}

function objectWords(value: object, words: Words): string {
  const parts = (Object.entries(value) as readonly (readonly [string, unknown])[]).filter(([, own]) => own !== undefined && !(Array.isArray(own) && own.length === 0))
  if (parts.length === 1) return wordsFor(parts[0][1], words)
  return parts.map(([key, own]) => `${fieldName(key)} ${wordsFor(own, words)}`).join(', ')
}

function wordsFor(value: unknown, words: Words): string {
  if (value === null || value === undefined) return 'nothing'
  if (typeof value === 'boolean') return value ? 'yes' : 'no'
  if (typeof value === 'number') return exact(value)
  if (typeof value === 'string') {
    if (UUID.test(value)) return nameOf(value, words.look)
    return MOMENT.test(value) ? momentName(value) : value
  }
  if (Array.isArray(value)) return value.map((item: unknown) => wordsFor(item, words)).join(', ')
  // A value with a shape was checked as a setting when it was written.
  if (isPlain(value) && 'shape' in value) return settingText(value as Parameters<typeof settingText>[0])
  return objectWords(value, words)
}

function nameOf(id: string, look: Look): string {
  const record = look(id)
  if (record === undefined) return 'something that is gone'
  if ('name' in record) return record.name
  return describeRecord(record, look)
}

function isPlain(value: unknown): value is Record<string, unknown> {
  return typeof value === 'object' && value !== null && !Array.isArray(value)
}

/** "startId" reads "start", "powerPlan" reads "power plan". */
function fieldName(key: string): string {
  return NAMES[key] ?? key.replace(/Ids?$/, '').replace(/([a-z])([A-Z])/g, '$1 $2').toLowerCase()
}

const NAMES: Readonly<Record<string, string>> = {
  baseId: 'base tune', at: 'when', by: 'by whom', origin: 'where from', picked: 'how picked', setAside: 'set aside', order: 'place in order', sha256: 'content', fileDigest: 'content of the file',
  questionIds: 'questions', tuneIds: 'tunes', workloadIds: 'workloads', sampleIds: 'samples', ceilingIds: 'ceilings', how: 'how started', known: 'how known',
}
const LAST: readonly string[] = ['by', 'at']
/** Keys that only group what is below them. */
const UNSPOKEN: ReadonlySet<string> = new Set(['ask', 'about'])
const ONE_OF: Readonly<Record<string, string>> = {
  prices: 'price', slots: 'slot', inspections: 'inspection', items: 'weight of', criteria: 'criterion', requires: 'requirement', starts: 'start', answers: 'answer', measures: 'measure',
}
const UUID = /^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$/
const MOMENT = /^\d{4}-\d{2}-\d{2}T\d{2}:\d{2}/
const LONGEST_TEXT = 400
const CUT = ' ...'
