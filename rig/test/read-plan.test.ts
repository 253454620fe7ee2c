// Plan files: every fault gets a sentence with its place.
import { SpokenError } from '@guardband/model'
import * as fc from 'fast-check'
import { expect, test } from 'vitest'
import { readPlan } from '../index.ts'
import { scanJson } from '../json-places.ts'
import { planJson, shell } from './kit.ts'

const SOUND = JSON.stringify(planJson(), null, 2)

test('a sound plan is read, with and without a byte order mark', () => {
  expect(readPlan(SOUND, 'plan.json').tunes.map(({ name }) => name)).toEqual(['narrow', 'wide'])
  expect(readPlan(`\uFEFF${SOUND}`, 'plan.json')).toEqual(readPlan(SOUND, 'plan.json'))
})

test.each([
  ['{\n  "schema": 1,\n}', 'plan.json, line 3, column 1: this is no JSON: a key in double quotes is due here; got "}" (no comma may stand before it).'],
  ['{"schema": 1 "id": 2}', 'plan.json, line 1, column 14: this is no JSON: a comma or } is due here; got """.'],
  ["{'schema': 1}", 'plan.json, line 1, column 2: this is no JSON: a key in double quotes is due here; got "\'".'],
  ['{"id": \'x\'}', 'plan.json, line 1, column 8: this is no JSON: a value is due here; got "\'" (texts stand in double quotes).'],
  ['{"id": "a\nb"}', 'plan.json, line 1, column 8: this is no JSON: this text in quotes is not closed on its line, or holds a backslash that stands for nothing (a backslash itself is written \\\\).'],
  ['{"id": "C:\\x"}', 'plan.json, line 1, column 8: this is no JSON: this text in quotes is not closed'],
  ['{"id": [1, 2', 'plan.json, line 1, column 13: this is no JSON: a comma or ] is due here; got the end of the text.'],
  ['{"id": 01}', 'plan.json, line 1, column 8: this is no JSON: a value is due here; got "0".'],
  ['{} {}', 'plan.json, line 1, column 4: this is no JSON: nothing may come after the closing bracket.'],
  ['{"id": 1, "id": 2}', 'plan.json, line 1, column 11: this is no JSON: the key "id" comes twice.'],
  ['', 'plan.json, line 1, column 1: this is no JSON: the text ends where a value is due.'],
])('%j is told as: %s', (text, sentence) => {
  expect(faultOf(text).sentence).toContain(sentence)
})

test('what the scanner passes is what JSON.parse reads, for any JSON and any damage to it', () => {
  fc.assert(
    fc.property(fc.json(), fc.nat(), fc.constantFrom('', '"', ',', '}', '0', ' ', '\\', 'e'), (json, at, insert) => {
      const index = at % (json.length + 1)
      const text = json.slice(0, index) + insert + json.slice(index + (insert === '' ? 1 : 0))
      let parses = true
      try {
        JSON.parse(text)
      } catch {
        parses = false
      }
      const { fault } = scanJson(text)
      // A key that comes twice parses, and is a fault here.
      const passes = fault === null || (parses && fault.message.endsWith('comes twice'))
      expect(passes).toBe(parses)
    }),
    { numRuns: 2000 },
  )
})

test.each<[string, (plan: any) => void, string]>([ // oxlint-disable-line typescript/no-explicit-any -- plans are broken here in ways that no type allows
  ['a missing key', (plan) => delete plan.rig, 'line 1, column 1: rig is missing (string expected).'],
  ['a key misspelt', (plan) => (plan.tunes[1].aply = plan.tunes[1].apply), 'tunes[1].aply is no key that stands here (got "aply"). Did you mean "apply"? docs/guide/rig-plan.md says what may stand there.'],
  ['a key misspelt, so that the right one is missing', (plan) => {
    plan.workloads[0].mesures = plan.workloads[0].measures
    delete plan.workloads[0].measures
  }, 'workloads[0].mesures is no key that stands here (got "mesures"). Did you mean "measures"?'],
  ['a key like no other', (plan) => (plan.colour = 'red'), 'colour is no key that stands here (got "colour"). Correct its spelling or take it out; docs/guide/rig-plan.md says what may stand there.'],
  ['a key of another kind of step', (plan) => {
    delete plan.design
    plan.steps = [{ id: 'c', kind: 'change', tunes: 'narrow', start: 'live' }]
  }, 'steps[0].tunes is no key that stands here (got "tunes") (1 more to correct after it). Did you mean "tune"?'],
  ['another schema', (plan) => (plan.schema = 2), 'schema must be 1. Write 1.'],
  ['neither design nor steps', (plan) => delete plan.design, 'a plan must have either a design or steps. Add one of the two.'],
  ['a text for a number', (plan) => (plan.design.repeats = '5'), 'design.repeats must be a number; got string.'],
  ['a word that is none of the known', (plan) => (plan.workloads[0].measures[0].direction = 'up'), 'workloads[0].measures[0].direction must be "higher is better" or "lower is better".'],
  ['a reading with a misspelt key', (plan) => (plan.workloads[0].measures[0].reading = { patern: '(x)' }), 'workloads[0].measures[0].reading.patern is no key that stands here (got "patern"). Did you mean "pattern"?'],
  ['a pattern without a group', (plan) => (plan.workloads[0].measures[0].reading.pattern = 'score'), 'workloads[0].measures[0].reading.pattern must have a group that holds the value; got score. Put round brackets'],
  ['a pattern that is none', (plan) => (plan.workloads[0].measures[0].reading.pattern = '(['), 'workloads[0].measures[0].reading.pattern must be a pattern; got (['],
  ['a pointer that is none', (plan) => (plan.workloads[0].measures[0].reading = { pointer: 'score' }), 'must be a JSON pointer: a JSON pointer begins with "/".'],
  ['an observable with nothing to read', (plan) => delete plan.tunes[0].readBack[0].command, 'tunes[0].readBack[0] must have a command, a reading from a file, one that a person types, or a workload that reports it. Add one of them.'],
  ['a workload that nothing carries out', (plan) => delete plan.workloads[0].command, 'workloads[0] must have exactly one of command, prompt and selfCheck; got none of them. Say what carries it out.'],
  ['a workload that a program and a person carry out', (plan) => (plan.workloads[0].prompt = { text: 'Do it.' }), 'workloads[0] must have exactly one of command, prompt and selfCheck; got command and prompt. Keep one;'],
  ['a self-check with measures', (plan) => {
    delete plan.workloads[0].command
    plan.workloads[0].selfCheck = { kernel: 'hash chain', seconds: 5 }
  }, 'workloads[0].measures must be empty: a self-check passes or fails, and has no measures; got 1. Take them out.'],
  ['elapsed seconds of a person', (plan) => promptWith(plan, { elapsed: 'seconds' }), 'workloads[0].measures[0].reading must not be elapsed seconds: nothing times what a person does. For example { "typed":'],
  ['a pattern over what a person does', (plan) => promptWith(plan, { pattern: '(.*)' }), 'workloads[0].measures[0].reading must be typed or come from a file: a person prints nothing.'],
  ['a typed value of a command', (plan) => (plan.tunes[0].readBack[0].reading = { typed: 'What?' }), 'tunes[0].readBack[0].reading must be what the command shows; got one that a person types.'],
  ['an observable that times something', (plan) => (plan.tunes[0].readBack[0].reading = { elapsed: 'seconds' }), 'tunes[0].readBack[0].reading must read what is in force; got elapsed seconds.'],
  ['a report by a workload that is not there', (plan) => selfReported(plan, 'photo stak'), 'tunes[0].readBack[0].selfReported must name a workload of this plan; got "photo stak". It has: photo stack.'],
  ['a report by a person\'s workload', (plan) => {
    selfReported(plan, 'photo stack')
    promptWith(plan, { typed: 'What?' })
  }, 'tunes[0].readBack[0].selfReported must name a workload that a command carries out; "photo stack" prints nothing.'],
  ['a report with a command of its own', (plan) => (plan.tunes[0].readBack[0].selfReported = 'photo stack'), 'tunes[0].readBack[0] must have a command of its own or a workload that reports it; got both. Keep one.'],
  ['a report out of a file', (plan) => {
    selfReported(plan, 'photo stack')
    plan.tunes[0].readBack[0].reading = { file: 'x', pattern: '(.*)' }
  }, 'tunes[0].readBack[0].reading must be a pattern or a pointer into what the workload prints.'],
  ['training with nothing to print it', (plan) => (plan.training = { result: { pattern: '(.*)' } }), 'training.result must come from a file or be typed: there is no training.command to print it.'],
  ['training timed by its command', (plan) => (plan.training = { command: { run: ['x'] }, result: { pattern: '(.*)' }, seconds: { elapsed: 'seconds' } }), 'training.seconds must be what the machine tells of its training; got the elapsed seconds of this command.'],
  ['training by a pattern without a group', (plan) => (plan.training = { command: { run: ['x'] }, result: { pattern: 'x' } }), 'training.result.pattern must have a group that holds the value; got x.'],
  ['a boot that a person types', (plan) => (plan.machine = { boot: { command: { run: ['x'] }, reading: { typed: 'Which?' } } }), 'machine.boot.reading must be what the command shows.'],
  ['a tolerance on a text', (plan) => Object.assign(plan.tunes[0].readBack[0], { expected: 'quiet', tolerance: 1 }), 'tunes[0].readBack[0].tolerance goes with a number only'],
  ['two measures of one name', (plan) => plan.workloads[0].measures.push(plan.workloads[0].measures[0]), 'workloads[0].measures[1].name is used twice'],
  ['a tune that is not there', (plan) => plan.design.tunes.push('wider'), 'design.tunes: there is no tune "wider" in this plan. It has: narrow, wide.'],
  ['a run after a ladder', (plan) => {
    delete plan.design
    plan.steps = [{ id: 'l', kind: 'ladder', tunes: ['narrow'], workload: 'photo stack', repeats: 1, start: 'live', stopAfterFailures: 1 }, { id: 'r', kind: 'run', workload: 'photo stack' }]
  }, 'steps[1] is a run after the ladder l'],
])('%s gets its sentence', (_, breakIt, sentence) => {
  const plan = structuredClone(planJson())
  breakIt(plan)
  expect(faultOf(JSON.stringify(plan)).sentence).toContain(sentence)
})

test('a fault stands at the line of what is wrong, and others are counted', () => {
  const text = SOUND.replace('"repeats": 2', '"repeats": 0').replace('"startsPerTune": 2', '"startsPerTune": -1')
  const line = text.split('\n').findIndex((each) => each.includes('startsPerTune')) + 1
  const fault = faultOf(text)
  expect(fault.place).toBe(`plan.json, line ${line}, column 22`)
  expect(fault.message).toContain('(1 more to correct after it)')
})

test('a plan with a command of no words is refused', () => {
  const plan = planJson({ workloads: [{ name: 'photo stack', command: { ...shell(''), run: [] }, measures: [] }] })
  expect(faultOf(JSON.stringify(plan)).message).toContain('workloads[0].command.run')
})

function faultOf(text: string): SpokenError {
  try {
    readPlan(text, 'plan.json')
  } catch (cause) {
    if (cause instanceof SpokenError) return cause
    throw cause
  }
  throw new Error('a fault was expected; got a plan')
}

test('a fault of content is told with its line and column', () => {
  const text = JSON.stringify({ ...planJson(), workloads: [{ name: 'photo stack', prompt: { text: 'Do it.' }, measures: [{ name: 'score', unit: 'points', direction: 'higher is better', reading: { elapsed: 'seconds' } }] }] }, null, 2)
  expect(faultOf(text).sentence).toMatch(/^plan\.json, line \d+, column \d+: workloads\[0\]/)
  // The reading's own line, before that of what stands in it.
  expect(Number(/line (\d+)/.exec(faultOf(text).sentence)?.[1])).toBe(text.split('\n').findIndex((each) => each.includes('"elapsed"')))
})

function promptWith(plan: any, reading: unknown): void { // oxlint-disable-line typescript/no-explicit-any -- plans are broken here in ways that no type allows
  delete plan.workloads[0].command
  plan.workloads[0].prompt = { text: 'Do it.' }
  plan.workloads[0].measures[0].reading = reading
}

function selfReported(plan: any, workload: string): void { // oxlint-disable-line typescript/no-explicit-any -- plans are broken here in ways that no type allows
  delete plan.tunes[0].readBack[0].command
  plan.tunes[0].readBack[0].selfReported = workload
}
