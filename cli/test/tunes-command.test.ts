// `guardband tunes` on a workspace: a list, a difference in the words of the page, and names that are nearly right.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { createLab, tuneDifference } from '@guardband/lab'
import { createIdFactory } from '@guardband/model'
import { afterAll, beforeAll, expect, test } from 'vitest'
import { runCli } from './run-cli.ts'

const sources = { now: Date.now, newId: createIdFactory({ now: Date.now, fillRandom: (bytes) => void crypto.getRandomValues(bytes) }) }
const limit = (value: number) => ({ key: 'package power limit', scope: { level: 'package' as const }, asked: { shape: 'scalar' as const, value, unit: 'W' } })
let folder: string
let text: string

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'guardband-cli-tunes-'))
  const [base, quick] = [sources.newId(), sources.newId()]
  const lab = createLab(join(folder, 'lab'), { name: 'Hollin & Pike', currency: 'EUR', records: [{ kind: 'tune', id: base, name: 'House', settings: [limit(95)] }, { kind: 'tune', id: quick, name: 'Quick 120', baseId: base, settings: [limit(120)] }] }, sources)
  text = tuneDifference(lab, base, quick).difference.text
  await lab.close()
})

afterAll(() => rmSync(folder, { recursive: true, force: true }))

test('without names it lists what each changes on its base', async () => {
  const { code, out } = await runCli({ folder }, 'tunes', '--in', 'lab')
  expect({ code, out }).toEqual({ code: 0, out: 'House  (0 starts, 0 runs)\n   asks for 1 setting\nQuick 120 on House  (0 starts, 0 runs)\n   package power limit +25 W to 120 W\n' })
})

test('with two it prints the difference that the page shows, whatever the case of the names', async () => {
  const { code, out } = await runCli({ folder }, 'tunes', 'house', 'QUICK 120', '--in', 'lab')
  expect(code).toBe(0)
  expect(out.trimEnd()).toBe(text)
})

test('one name is too few, and a wrong one is met with the nearest', async () => {
  expect((await runCli({ folder }, 'tunes', 'House', '--in', 'lab')).err).toContain('a difference needs two tunes; got one.')
  const wrong = await runCli({ folder }, 'tunes', 'House', 'Quick 12', '--in', 'lab')
  expect(wrong.code).not.toBe(0)
  expect(wrong.err).toContain('Did you mean "Quick 120"?')
})
