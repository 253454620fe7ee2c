// A workspace taken elsewhere, by the command alone: the same digest, the same answers digit for digit, and sentences where it can't be.
import { execFile } from 'node:child_process'
import { existsSync, mkdtempSync, readdirSync, readFileSync, rmSync, symlinkSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { promisify } from 'node:util'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { createLab, openLab, type Lab } from '@guardband/lab'
import { createIdFactory, type Answer } from '@guardband/model'
import { DEMO_LAB, demoRecords } from '@guardband/simlab/demo'
import { fillAwkward } from './awkward-lab.ts'
import { runCli, spawnCli, type CliResult } from './run-cli.ts'

const folder = mkdtempSync(join(tmpdir(), 'guardband-moving-'))
afterAll(() => rmSync(folder, { recursive: true, force: true }))
const cli = (...args: readonly string[]): Promise<CliResult> => runCli({ folder }, ...args)
const fillRandom = (bytes: Uint8Array): void => void crypto.getRandomValues(bytes)
const sources = { now: () => Date.now(), newId: createIdFactory({ now: () => Date.now(), fillRandom }) }
const LABS = ['demo', 'awkward'] as const
const FORMS = ['json', 'csv', 'archive'] as const

beforeAll(async () => {
  await createLab(join(folder, 'demo'), { ...DEMO_LAB, records: demoRecords() }, sources).close()
  await fillAwkward(createLab(join(folder, 'awkward'), { name: '=Awk"ward, <b>&</b>', currency: '' }, sources)).close()
})

/** Every answer, without when it was computed. */
async function answersOf(lab: Lab): Promise<readonly unknown[]> {
  const answers: unknown[] = []
  for (const { question } of lab.questions()) answers.push(await lab.answer(question.id).then(plain, (error: unknown) => String(error)))
  return answers
}

function plain({ computation: _computation, ...answer }: Answer & { readonly computation?: unknown }): unknown {
  return answer
}

async function readAll(name: string): Promise<{ readonly digest: string; readonly answers: readonly unknown[] }> {
  const lab = openLab(join(folder, name), sources)
  try {
    return { digest: lab.moving.digest(), answers: await answersOf(lab) }
  } finally {
    await lab.close()
  }
}

describe.each(LABS)('the %s lab, exported and imported on an empty machine', (name) => {
  it.each(FORMS)('as %s has the same content digest and the same answers, digit for digit', { timeout: 120_000 }, async (form) => {
    const file = `${name}.${form}`
    const exported = await cli('export', file, '--as', form, '--in', name)
    expect([exported.code, exported.err]).toEqual([0, ''])
    const into = `${name}-from-${form}`
    const imported = await cli('import', file, into)
    expect([imported.code, imported.err]).toEqual([0, ''])
    expect(imported.out).toContain('with the same content digest')
    const [before, after] = [await readAll(name), await readAll(into)]
    expect(before.answers.length).toBeGreaterThan(3)
    expect(after).toEqual(before)
    expect(await cli('check', '--in', into)).toMatchObject({ code: 0, out: expect.stringContaining('Nothing amiss') })
  })
})

describe('export', () => {
  it('writes over nothing, and says where it can not write', async () => {
    writeFileSync(join(folder, 'mine.json'), 'mine')
    expect(await cli('export', 'mine.json', '--as', 'json', '--in', 'demo')).toEqual({ code: 1, out: '', err: `${join(folder, 'mine.json')}: there is something under this name already; nothing is written over it. Choose another name.\n` })
    expect(readFileSync(join(folder, 'mine.json'), 'utf8')).toBe('mine')
    expect(await cli('export', 'no/where.json', '--as', 'json', '--in', 'demo')).toMatchObject({ code: 1, err: expect.stringContaining('the folder that it should go to is not there') })
    expect(await cli('export', 'x.json', '--in', 'demo')).toMatchObject({ code: 1, err: expect.stringContaining("'--as <form>'") })
    expect(await cli('export', 'x.json', '--as', 'json', '--in', folder)).toMatchObject({ code: 1, err: expect.stringContaining('no workspace') })
  })
})

describe('import', () => {
  it('says what a file is that no export made, and makes nothing of it', async () => {
    writeFileSync(join(folder, 'runs.csv'), 'part,sample\n')
    writeFileSync(join(folder, 'zip.zip'), 'PK\u0003\u0004 and then nothing')
    const cases = [
      ['none.json', 'there is no such file'], ['runs.csv', 'it is no export of a workspace. Runs from other programs come in with "npx guardband take"'], ['zip.zip', 'cut short or damaged'], ['demo', 'it is no file'],
    ] as const
    for (const [file, sentence] of cases) {
      expect(await cli('import', file, 'nothing')).toMatchObject({ code: 1, out: '', err: expect.stringContaining(sentence) })
      expect(existsSync(join(folder, 'nothing'))).toBe(false)
    }
  })

  it('is refused into a workspace that is there', async () => {
    await cli('export', 'again.json', '--as', 'json', '--in', 'awkward')
    expect(await cli('import', 'again.json', 'demo')).toMatchObject({ code: 1, out: '', err: expect.stringContaining('there is a workspace in this folder already. Open it, or choose another folder.') })
  })

  it('says which files an export of records leaves behind', async () => {
    const lab = openLab(join(folder, 'awkward'), sources)
    const [rig] = lab.list('rig')
    await lab.evidence.keep({ request: sources.newId(), who: 'Ada', name: 'paste.txt', mediaType: 'text/plain', about: [rig.id], thumbnailBytes: 0, limit: 100, pieces: pieces('thin') })
    await lab.close()
    await cli('export', 'with.json', '--as', 'json', '--in', 'awkward')
    const made = await cli('import', 'with.json', 'without')
    expect([made.code, made.err]).toEqual([0, expect.stringMatching(/^1 file that its records name is not in an export of records/)])
    expect(await cli('check', '--in', 'without')).toMatchObject({ code: 1, out: expect.stringContaining('The file of evidence "paste.txt" is gone.') })
    expect((await cli('check', '--in', 'awkward')).out).toContain('1 piece of evidence')
  })
})

describe('backup', () => {
  it('copies a workspace that a hub has open, and the copy opens and checks clean', { timeout: 60_000 }, async () => {
    const hub = spawnCli({ folder, env: { PORT: '0' } }, 'start', 'demo', '--no-open')
    await new Promise<void>((resolve) => hub.stdout.once('data', () => resolve()))
    try {
      const made = await cli('backup', 'copy', '--in', 'demo')
      expect([made.code, made.err]).toEqual([0, ''])
      expect(made.out).toMatch(/copied, opened and compared; content digest [0-9a-f]{12}\.\n$/)
    } finally {
      hub.kill()
      await new Promise((resolve) => hub.once('exit', resolve))
    }
    expect(await readAll('copy')).toEqual(await readAll('demo'))
    expect(await cli('check', '--in', 'copy')).toMatchObject({ code: 0 })
  })

  it('without a folder goes beside the workspace, each time into one of its own', async () => {
    await cli('backup', '--in', 'awkward')
    await cli('backup', '--in', 'awkward')
    expect(readdirSync(join(folder, 'awkward-backups'))).toHaveLength(2)
  })

  it('writes over nothing, follows no link, and does not go into the workspace itself', async () => {
    symlinkSync(join(folder, 'elsewhere'), join(folder, 'link'))
    for (const [to, sentence] of [['demo', 'must lie outside'], ['demo/copy', 'must lie outside'], ['awkward', 'there is a workspace in this folder already'], ['link', 'a link stands in the place'], ['mine.json', 'a file stands in the place']] as const) {
      expect(await cli('backup', to, '--in', 'demo')).toMatchObject({ code: 1, out: '', err: expect.stringContaining(sentence) })
    }
  })

  it.skipIf(process.platform !== 'linux' || process.getuid?.() !== 0)('onto a disk that is too small says so and leaves nothing there', async () => {
    const small = join(folder, 'small')
    const run = promisify(execFile)
    await run('mkdir', [small])
    try {
      await run('mount', ['-t', 'tmpfs', '-o', 'size=256k', 'tmpfs', small])
    } catch {
      // Some containers let nobody mount.
      return
    }
    for (const form of ['json', 'archive']) if (!existsSync(join(folder, `demo.${form}`))) await cli('export', `demo.${form}`, '--as', form, '--in', 'demo')
    try {
      for (const args of [['backup', 'small/copy', '--in', 'demo'], ['export', 'small/demo.json', '--as', 'json', '--in', 'demo'], ['import', 'demo.json', 'small/demo'], ['import', 'demo.archive', 'small/demo']]) {
        expect([args, await cli(...args)]).toEqual([args, { code: 1, out: '', err: expect.stringMatching(/[Mm]ake room|the disk is full|with room/) }])
        expect(readdirSync(small)).toEqual([])
      }
    } finally {
      await run('umount', [small])
    }
  })
})

async function* pieces(text: string): AsyncGenerator<Uint8Array> {
  yield Buffer.from(text)
}
