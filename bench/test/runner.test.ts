/** The bench runner, on benches planted for it. */
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterEach, beforeEach, expect, test } from 'vitest'
import { runBench } from '../runner.ts'

let folder = ''
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'guardband-bench-'))
})
afterEach(() => rmSync(folder, { recursive: true }))

function plant(name: string, result: string, exportedName = name): void {
  writeFileSync(
    join(folder, `${name}.bench.ts`),
    `export const bench = { name: '${exportedName}', what: 'measures ${name}', run: async (args, print) => { print('at work ' + args.join(' ')); return ${result} } }`,
  )
}

async function run(...args: readonly string[]): Promise<{ readonly code: number; readonly lines: readonly string[]; readonly complaints: readonly string[] }> {
  const lines: string[] = []
  const complaints: string[] = []
  const code = await runBench({ folder, args, print: (line) => lines.push(line), complain: (line) => complaints.push(line) })
  return { code, lines, complaints }
}

test('the last line is one JSON object with the ratio of value to reference', async () => {
  plant('reading', `{ value: 3, reference: 4, bar: 'at most 1', pass: true, detail: { rows: 7 } }`)
  const { code, lines } = await run('reading', '--rows', '7')
  expect(code).toBe(0)
  expect(lines.map((line, at) => (at === 0 ? line : JSON.parse(line)))).toEqual([
    'at work --rows 7',
    { name: 'reading', value: 3, reference: 4, ratio: 0.75, bar: 'at most 1', pass: true, detail: { rows: 7 } },
  ])
})

test('a bar that is not reached ends with exit code 1', async () => {
  plant('reading', `{ value: 5, reference: 4, bar: 'at most 1', pass: false }`)
  expect((await run('reading')).code).toBe(1)
})

test('a figure that is not finite is an error, never a pass', async () => {
  plant('reading', `{ value: Number.NaN, reference: 4, bar: 'at most 1', pass: true }`)
  await expect(run('reading')).rejects.toThrow('value of reading must be a finite number; got NaN')
})

test('the list names every bench with what it measures', async () => {
  plant('writing', '{}')
  plant('reading', '{}')
  expect(await run('list')).toEqual({ code: 0, lines: ['reading  measures reading', 'writing  measures writing'], complaints: [] })
})

test.each([[], ['nothing-like-it'], ['../reading']])('a name that is no bench is refused with the names there are (%j)', async (...args) => {
  plant('reading', '{}')
  const { code, lines, complaints } = await run(...args)
  expect({ code, lines }).toEqual({ code: 2, lines: [] })
  expect(complaints[0]).toMatch(/^bench must be list or one of reading; got /)
})

test('a bench that goes by another name than its file is refused', async () => {
  plant('reading', '{}', 'writing')
  await expect(run('reading')).rejects.toThrow("bench/reading.bench.ts must export bench = { name: 'reading', what, run }; got the name 'writing'")
})
