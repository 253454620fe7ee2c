// Reads a plan file. What is wrong with it comes as sentences that name file, line, column, path and mend.
import { SpokenError, nearest, planFaults, planSchema, planSteps, type Plan, type Reading } from '@guardband/model'
import { planKeysAt } from '@guardband/model/plan-keys'
import { pointerFault } from './json-pointer.ts'
import { linePlace, scanJson, type JsonPlaces } from './json-places.ts'

/** Throws `plan-syntax`, `plan-schema`, or a sentence of the plan's own about its names and steps. The first fault is told in full, others are counted. */
export function readPlan(text: string, file: string): Plan {
  const source = text.startsWith('\uFEFF') ? text.slice(1) : text
  const places = scanJson(source)
  if (places.fault !== null) {
    const { line, column } = linePlace(source, places.fault.offset)
    throw new SpokenError({ code: 'plan-syntax', place: `${file}, line ${line}, column ${column}`, message: `this is no JSON: ${places.fault.message}.`, mend: 'Correct it there and read the plan again.' })
  }
  const parsed = planSchema.safeParse(JSON.parse(source))
  if (!parsed.success) {
    const faults = parsed.error.issues.map((issue) => explain(issue, []))
    const { path, rule, mend } = tellingFirst(faults)
    throw schemaError({ source, file, places, path, rule, mend, others: faults.length - 1 })
  }
  const plan = parsed.data
  for (const { path, rule, mend } of contentFaults(plan)) throw schemaError({ source, file, places, path, rule, mend, others: 0 })
  planSteps(plan)
  return plan
}

interface Fault {
  readonly path: string
  readonly rule: string
  readonly mend: string
  /** A key that is near to a known one: it explains why that one is missing. */
  readonly misspelt?: true
}

interface SchemaFault extends Fault {
  readonly source: string
  readonly file: string
  readonly places: JsonPlaces
  readonly others: number
}

function schemaError({ source, file, places, path, rule, mend, others }: SchemaFault): SpokenError {
  const { line, column } = linePlace(source, offsetOf(places, path))
  const more = others === 0 ? '' : ` (${others} more to correct after it)`
  return new SpokenError({ code: 'plan-schema', place: `${file}, line ${line}, column ${column}`, message: `${path === '' ? 'the plan' : path} ${rule}${more}.`, mend })
}

/** The place of a value; of what is missing, the place of what should hold it. */
function offsetOf({ offsets }: JsonPlaces, path: string): number {
  for (let at = path; at !== ''; at = at.replace(/(?:^|\.)[^.[\]]*$|\[\d+\]$/, '')) {
    const offset = offsets.get(at)
    if (offset !== undefined) return offset
    if (!/[.[]/.test(at)) break
  }
  return offsets.get('') ?? 0
}

type Issue = NonNullable<ReturnType<typeof planSchema.safeParse>['error']>['issues'][number]

function tellingFirst(faults: readonly Fault[]): Fault {
  return faults.find(({ misspelt }) => misspelt === true) ?? faults[0]
}

function explain(issue: Issue, above: readonly PropertyKey[]): Fault {
  const keys = [...above, ...issue.path]
  // Of several forms the one that fits best tells most.
  const forms = issue.code === 'invalid_union' ? issue.errors.toSorted((a, b) => distance(a) - distance(b)) : []
  if (forms.length > 0 && forms[0].length > 0) return tellingFirst(forms[0].map((inner) => explain(inner, keys)))
  const path = pathText(keys)
  if (issue.code === 'unrecognized_keys') {
    const known = planKeysAt(keys)
    const meant = (key: string): string | undefined => nearest(key, known.filter((each) => each !== key))
    const first = issue.keys.find((key) => meant(key) !== undefined) ?? issue.keys[0]
    const near = meant(first)
    const names = issue.keys.map((key) => `"${key}"`).join(', ')
    const fault = { path: pathText([...keys, first]), rule: `is no key that stands here (got ${names})` }
    return near === undefined ? { ...fault, mend: `Correct its spelling or take it out; ${GUIDE} says what may stand there.` } : { ...fault, misspelt: true, mend: `Did you mean "${near}"? ${GUIDE} says what may stand there.` }
  }
  const message = issue.message.replace(/^Invalid (?:input|option|string|ISO datetime): ?/, '').replace(/^Too (?:small|big): /, '')
  if (issue.code === 'invalid_type') return { path, rule: message.includes('received undefined') ? `is missing (${issue.expected} expected)` : `must be ${article(issue.expected)}; ${message.replace(/^expected \w+, received/, 'got')}`, mend: `${GUIDE} says what belongs there.` }
  if (issue.code === 'invalid_value') return { path, rule: `must be ${issue.values.map((value) => JSON.stringify(value)).join(' or ')}`, mend: issue.values.length === 1 ? `Write ${JSON.stringify(issue.values[0])}.` : 'Write one of these.' }
  return { path, rule: message.startsWith('must') ? message : `does not hold to a rule: ${message}`, mend: 'Correct the value.' }
}

const GUIDE = 'docs/guide/rig-plan.md'

/** A form with a foreign key is further from what was meant than one with a wrong value. */
function distance(issues: readonly Issue[]): number {
  return issues.reduce((sum, { code, path }) => sum + (code === 'unrecognized_keys' ? 3 : 2) - Math.min(1, path.length), 0)
}

function article(expected: string): string {
  if (expected === 'array') return 'a list in square brackets'
  if (expected === 'record' || expected === 'object') return 'an object in braces'
  return expected === 'int' ? 'a whole number' : expected === 'string' ? 'a text in double quotes' : `a ${expected}`
}

function pathText(keys: readonly PropertyKey[]): string {
  return keys.reduce<string>((path, key) => (typeof key === 'number' ? `${path}[${key}]` : path === '' ? String(key) : `${path}.${String(key)}`), '')
}

/** Rules that the schema can't state. */
function* contentFaults(plan: Plan): Generator<Fault> {
  yield* planFaults(plan)
  for (const [index, tune] of plan.tunes.entries()) {
    for (const [at, observable] of tune.readBack.entries()) {
      const path = `tunes[${index}].readBack[${at}]`
      yield* readingFaults(observable.reading, `${path}.reading`)
    }
  }
  for (const [index, workload] of plan.workloads.entries()) {
    const names = new Set<string>()
    for (const [at, { name, reading }] of workload.measures.entries()) {
      const path = `workloads[${index}].measures[${at}]`
      yield* readingFaults(reading, `${path}.reading`)
      if (names.has(name)) yield { path: `${path}.name`, rule: `is used twice in this workload (got "${name}")`, mend: 'Rename one of the measures.' }
      names.add(name)
    }
  }
  const { training, machine } = plan
  for (const key of ['result', 'tries', 'seconds', 'postCode'] as const) {
    const reading = training?.[key]
    if (reading !== undefined) yield* readingFaults(reading, `training.${key}`)
  }
  if (machine !== undefined) yield* readingFaults(machine.boot.reading, 'machine.boot.reading')
  const steps = plan.steps ?? []
  for (const [index, step] of steps.entries()) {
    if (step.kind !== 'run') continue
    const opener = steps.slice(0, index).findLast(({ kind }) => kind === 'change' || kind === 'ladder')
    if (opener?.kind === 'ladder') yield { path: `steps[${index}]`, rule: `is a run after the ladder ${opener.id}, which leaves no known tune in force`, mend: 'Put a change step before it.' }
  }
}

function* readingFaults(reading: Reading, path: string): Generator<Fault> {
  if ('pattern' in reading) {
    const fault = patternFault(reading.pattern)
    if (fault !== null) yield { path: `${path}.pattern`, rule: fault, mend: 'Put round brackets around the value, as in "score: ([0-9.]+)".' }
  }
  if ('pointer' in reading) {
    const fault = pointerFault(reading.pointer)
    if (fault !== null) yield { path: `${path}.pointer`, rule: `must be a JSON pointer: ${fault}`, mend: 'For example "/results/0/score".' }
  }
}

function patternFault(pattern: string): string | null {
  try {
    // Matches the empty text by its second branch, and so shows how many groups there are.
    const groups = new RegExp(`${pattern}|`, 'm').exec('')
    return groups === null || groups.length < 2 ? `must have a group that holds the value; got ${pattern}` : null
  } catch (cause) {
    return `must be a pattern; got ${pattern} (${cause instanceof Error ? cause.message : String(cause)})`
  }
}
