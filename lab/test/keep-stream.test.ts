// A stream as a file that is whole or not there.
import { appendFileSync, existsSync, readdirSync, readFileSync, symlinkSync, writeFileSync } from 'node:fs'
import path from 'node:path'
import { Readable } from 'node:stream'
import { describe, expect, it } from 'vitest'
import { keepStream } from '../index.ts'
import { temporaryFolder } from './support.ts'

describe('keeping a stream as a file', () => {
  it('never writes over what is there, a link that leads nowhere included', async () => {
    const folder = temporaryFolder()
    const file = path.join(folder, 'mine.json')
    writeFileSync(file, 'mine')
    symlinkSync(path.join(folder, 'nowhere'), path.join(folder, 'link'))
    for (const name of ['mine.json', 'link']) await expect(keepStream(Readable.from(['x']), path.join(folder, name))).rejects.toThrow('nothing is written over it')
    expect(readFileSync(file, 'utf8')).toBe('mine')
    expect(readdirSync(folder).toSorted()).toEqual(['link', 'mine.json'])
  })

  it('leaves nothing when the stream breaks, the folder is missing, or the disk is full', async () => {
    const folder = temporaryFolder()
    const broken = new Readable({ read() { this.push('half'); this.destroy(new Error('broken')) } })
    await expect(keepStream(broken, path.join(folder, 'x'))).rejects.toThrow('broken')
    await expect(keepStream(Readable.from(['x']), path.join(folder, 'no', 'x'))).rejects.toThrow('the folder that it should go to is not there')
    expect(readdirSync(folder)).toEqual([])
  })

  it.skipIf(!existsSync('/dev/full'))('says that the disk is full, in words', async () => {
    const { spokenFileError } = await import('../files.ts')
    const error = await new Promise<unknown>((resolve) => {
      try {
        appendFileSync('/dev/full', 'x')
      } catch (thrown) {
        resolve(thrown)
      }
    })
    expect(spokenFileError(error, '/x')).toMatchObject({ code: 'file-not-written', mend: 'Make room on the disk and repeat it.' })
  })
})
