// Asking people: answers that don't fit, several places at once, and questions that are taken back.
import { expect, test } from 'vitest'
import { firstAnswer, nobody, peopleAtTerminal, type People, type Question, type Terminal } from '../index.ts'
import { playPeople } from './answers.ts'
import { createBench, ofType, planJson, quietTerminal, ONE_START } from './kit.ts'

const YES_OR_NO: Question = { kind: 'choice', step: 's', text: 'Is it on?', words: ['yes', 'no'] }
const METER: Question = { kind: 'value', step: 's', text: 'What does the meter say?', unit: 'W' }
const never = (): AbortSignal => new AbortController().signal

test.each<[Question, string[], string, string[]]>([
  [YES_OR_NO, ['maybe', '', 'YES'], 'yes', ['Is it on? Type yes or no.', 'The answer must be yes or no; got "maybe".', 'Type yes or no.', 'The answer must be yes or no; got nothing.', 'Type yes or no.']],
  [METER, ['much', '65,5', '65.5'], '65.5', ['What does the meter say? In W:', 'The value must be a number in W, with a decimal point; got "much".', 'In W:', 'The value must be a number in W, with a decimal point; got "65,5".', 'In W:']],
  [METER, ['3 fps', '1e999', '65500 mW'], '65500 mW', expect.arrayContaining(['The value must be a number in W, with a decimal point; got "3 fps", which does not convert to it.'])],
  [{ ...METER, unit: '1' }, ['x', '7'], '7', expect.arrayContaining(['The value must be a number, with a decimal point; got "x".'])],
  [{ kind: 'value', step: 's', text: 'Which POST code?' }, [' ', '55'], '55', ['Which POST code?', 'The answer must not be empty.', 'Which POST code?']],
  [{ kind: 'done', step: 's', text: 'Turn the pump on.' }, ['done already'], '', ['Turn the pump on. Press Enter when it is done, Ctrl-C to stop.']],
])('at the terminal %j, answered %j, comes to "%s"', async (question, answers, answer, shown) => {
  const said: string[] = []
  expect(await peopleAtTerminal(quietTerminal(said, answers), 'bench hand').ask(question, never())).toEqual({ answer, who: 'bench hand', via: 'terminal' })
  expect(said).toEqual(shown)
})

test('the first answer wins; elsewhere the question is taken back before the next one can come, and the terminal is told who said what', async () => {
  const { terminal, said, open } = openTerminal()
  const { people } = playPeople(['no'], 'phone of the north bench')
  const slow: People = { ...people, ask: async (question, signal) => {
    await new Promise((resolve) => setTimeout(resolve, 20))
    return people.ask(question, signal)
  } }
  expect(await firstAnswer([peopleAtTerminal(terminal, 'bench hand'), slow, nobody]).ask(YES_OR_NO, never())).toEqual({ answer: 'no', who: 'phone of the north bench', via: 'phone' })
  expect(open()).toBe(0)
  expect(said).toEqual(['Is it on? Type yes or no.', '"no", says phone of the north bench, on a phone.'])
})

test('an answer from the terminal takes the question back from the phone', async () => {
  const far = playPeople([])
  const said = await firstAnswer([far.people, peopleAtTerminal(quietTerminal([], ['yes']), 'bench hand')]).ask(YES_OR_NO, never())
  expect(said.via).toBe('terminal')
  expect(far.asked).toHaveLength(1)
  expect(far.open()).toBe(0)
})

test('an answer from afar that does not fit is asked again there, with a sentence, while the others go on being asked', async () => {
  const far = playPeople(['much', '65 fps', '65'])
  const { terminal, open } = openTerminal()
  expect((await firstAnswer([peopleAtTerminal(terminal, 'bench hand'), far.people]).ask(METER, never())).answer).toBe('65')
  expect(far.asked.map(({ text }) => text.split('\n')[0])).toEqual(['What does the meter say?', 'The value must be a number in W, with a decimal point; got "much".', 'The value must be a number in W, with a decimal point; got "65 fps", which does not convert to it.'])
  expect(open()).toBe(0)
})

test('a stop takes the question back everywhere', async () => {
  const stop = new AbortController()
  const far = playPeople([])
  const { terminal, open } = openTerminal()
  const asked = firstAnswer([peopleAtTerminal(terminal, 'bench hand'), far.people]).ask(YES_OR_NO, stop.signal)
  stop.abort(new Error('stopped'))
  await expect(asked).rejects.toThrow('stopped')
  expect(far.open()).toBe(0)
  await expect.poll(open).toBe(0)
})

test('a place that fails leaves the question to the others; where none is left its reason is told', async () => {
  const gone: People = { present: true, ask: () => Promise.reject(new Error('the line is cut')) }
  expect((await firstAnswer([gone, playPeople(['yes']).people]).ask(YES_OR_NO, never())).answer).toBe('yes')
  await expect(firstAnswer([gone]).ask(YES_OR_NO, never())).rejects.toThrow('the line is cut')
})

test('with nobody anywhere nobody is there', () => {
  expect(firstAnswer([nobody, nobody]).present).toBe(false)
})

test('a terminal that is closed under a question stops the plan for a person, and the journal says so', async () => {
  const closed: Terminal = { ...quietTerminal([], []), ask: () => Promise.reject(Object.assign(new Error('Aborted with Ctrl+D'), { name: 'AbortError' })) }
  const bench = createBench(planJson({ tunes: [{ name: 'narrow' }], design: ONE_START }))
  expect(await bench.run({ terminal: closed })).toMatchObject({ outcome: 'person needed', message: expect.stringContaining('the terminal was closed while a person was asked') })
  expect(ofType(bench.journals(), 'close')[0].reason).toContain('the terminal was closed')
})

/** Where nobody types; counts the questions that stand on it. */
function openTerminal(): { readonly terminal: Terminal; readonly said: readonly string[]; readonly open: () => number } {
  const said: string[] = []
  let open = 0
  return {
    said,
    open: () => open,
    terminal: {
      ...quietTerminal(said, []),
      ask: (question, signal) => {
        said.push(question)
        open += 1
        return new Promise((_, reject) => {
          const takeBack = () => {
            open -= 1
            reject(new DOMException('taken back', 'AbortError'))
          }
          // A terminal needs a moment to let go of its line.
          if (signal.aborted) takeBack()
          else signal.addEventListener('abort', () => setTimeout(takeBack, 5), { once: true })
        })
      },
    },
  }
}
