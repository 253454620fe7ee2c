// JSON exports that were changed, cut or made elsewhere: each refused with its place.
import { readdirSync, readFileSync, writeFileSync } from 'node:fs'
import path from 'node:path'
import { describe, expect, it } from 'vitest'
import { exported, shared, taken } from './moving-support.ts'
import { temporaryFolder } from './support.ts'

describe('a JSON export that was changed, cut or made elsewhere', () => {
  const cases: readonly (readonly [name: string, change: (text: string) => string | Uint8Array, sentence: RegExp])[] = [
    ['a figure was changed in', (text) => text.replace('"value":41.25', '"value":40.25'), /^it: its records are not those that were exported/],
    ['a record was taken out of', (text) => text.replace(/\n\{[^\n]*"kind":"dose"[^\n]*/, ''), /^it: it must hold \d+ records; it holds \d+\. Export/],
    ['a record was put in twice', (text) => text.replace(/\n(\{[^\n]*"kind":"dose"[^\n]*)\n/, '\n$1\n$1\n'), /is in it twice/],
    ['a field of the wrong type stands in', (text) => text.replace('"volts":1.35', '"volts":"high"'), /^it, line \d+, "volts": Invalid input/],
    ['an unknown field stands in', (text) => text.replace('"volts":1.35', '"volts":1.35,"amps":3'), /^it, line \d+: /],
    ['the end is missing of', (text) => text.slice(0, text.length / 2), /^it, line \d+, column \d+: from here on it is no JSON: it was cut or changed/],
    ['a quote is missing in', (text) => text.replace('"name":"north bench"', '"name":north bench"'), /^it, line \d+, column \d+: from here on/],
    ['the digest is missing in', (text) => text.replace(/"digest":"[0-9a-f]+",/, ''), /^it, "digest": /],
    ['a newer program wrote', (text) => text.replace('"format":1', '"format":2'), /format 2; this program knows formats up to 1/],
    ['Latin-1 bytes stand in', (text) => Buffer.from(text, 'latin1'), /must be UTF-8/],
    ['another program made', () => '{"results":[1,2]}', /it is no export of a workspace/],
    ['a list is', () => '[]', /it is no export of a workspace/],
    ['nothing is in', () => '', /line 1, column 1: from here on it is no JSON/],
    ['a prototype is reached for in', (text) => text.replace('"volts":1.35', '"volts":1.35,"__proto__":{"x":1}'), /^it, line \d+/],
  ]
  it.each(cases)('%s: is refused with its place, and nothing is made', async (_name, change, sentence) => {
    const file = exported('json')
    const text = readFileSync(file, 'utf8')
    const changed = change(text)
    expect(changed).not.toBe(text)
    writeFileSync(file, changed)
    const into = path.join(temporaryFolder(), 'lab')
    await expect(taken(file, into)).rejects.toThrow(expect.objectContaining({ sentence: expect.stringMatching(sentence) }))
    expect(readdirSync(path.dirname(into))).toEqual([])
  })

  it('names the line of the very record that is wrong', async () => {
    const file = exported('json')
    const lines = readFileSync(file, 'utf8').split('\n')
    const at = lines.findIndex((line) => line.includes('"kind":"dose"'))
    lines[at] = lines[at].replace('"hours":0.001', '"hours":-1')
    writeFileSync(file, lines.join('\n'))
    await expect(taken(file)).rejects.toThrow(expect.objectContaining({ sentence: expect.stringContaining(`it, line ${at + 1}, "hours"`) }))
  })

  it('laid out anew by another program is taken in, since its content is the same', async () => {
    const { digest } = shared
    const file = exported('json')
    writeFileSync(file, `\ufeff${JSON.stringify(JSON.parse(readFileSync(file, 'utf8')), undefined, 2)}`)
    expect((await taken(file)).digest).toBe(digest)
  })
})
