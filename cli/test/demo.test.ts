// The demo workspace is made once, whole, and says that it is simulated.
import { existsSync, mkdtempSync, readFileSync, readdirSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, it } from 'vitest'
import { openLab } from '@guardband/lab'
import { ensureDemo } from '../demo.ts'
import { systemTerminal, type Terminal } from '../terminal.ts'
import { labSources } from '../workspace.ts'

const root = mkdtempSync(join(tmpdir(), 'guardband-demo-'))
afterAll(() => rmSync(root, { recursive: true, force: true }))
const said: string[] = []
const terminal: Terminal = { ...systemTerminal(process), err: (line) => void said.push(line) }

describe('the demo workspace', () => {
  it('is made when missing, marked simulated, sound, and left alone afterwards', { timeout: 120_000 }, async () => {
    const folder = join(root, 'demo')
    await ensureDemo(terminal, folder)
    const lab = openLab(folder, labSources(terminal))
    const { lab: record, counts, head } = lab.info()
    expect(record.simulated).toBe(true)
    expect(counts.runs).toBeGreaterThan(100)
    expect(counts.questions).toBeGreaterThan(0)
    expect(lab.check()).toEqual([])
    const [file, ...more] = lab.list('evidence')
    expect(more).toEqual([])
    expect(readFileSync(join(folder, 'evidence', file.sha256), 'utf8')).toContain('Simulated')
    expect(lab.evidence.about(file.about[0])).toEqual([file])
    // The file alone can be taken back; the records before it stay.
    lab.undo(head, { who: 'tester', why: 'a try' })
    expect(lab.list('evidence')).toEqual([])
    expect(lab.info().counts).toEqual(counts)
    lab.undo(lab.head(), { who: 'tester', why: 'a try' })
    const left = lab.head()
    await lab.close()
    await ensureDemo(terminal, folder)
    const again = openLab(folder, labSources(terminal))
    expect(again.head()).toBe(left)
    await again.close()
    expect(said).toHaveLength(1)
    expect(readdirSync(root)).toEqual(['demo'])
  })

  it('does not take a folder that holds something else', { timeout: 120_000 }, async () => {
    const folder = join(root, 'demo', 'journals', '..', '..')
    await expect(ensureDemo(terminal, folder)).rejects.toMatchObject({ code: 'folder-not-empty' })
    expect(existsSync(join(root, 'demo', 'lab.db'))).toBe(true)
  })
})
