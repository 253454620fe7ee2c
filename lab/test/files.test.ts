import { existsSync, mkdirSync, readdirSync, readFileSync, symlinkSync, writeFileSync } from 'node:fs'
import path from 'node:path'
import { describe, expect, it } from 'vitest'
import { SpokenError } from '@guardband/model'
import { TEMPORARY_PREFIX, writeDurably } from '../files.ts'
import { temporaryFolder } from './support.ts'

describe('writing a file durably', () => {
  it('replaces it whole and leaves no temporary file', () => {
    const file = path.join(temporaryFolder(), 'deep', 'x.html')
    writeDurably(file, 'first')
    writeDurably(file, new Uint8Array([0x61, 0x62]))
    expect(readFileSync(file, 'utf8')).toBe('ab')
    expect(readdirSync(path.dirname(file))).toEqual(['x.html'])
  })

  it('keeps the old file when the new one can not take its place', () => {
    const folder = temporaryFolder()
    mkdirSync(path.join(folder, 'x.html'))
    writeFileSync(path.join(folder, 'x.html', 'inside'), 'old')
    expect(() => writeDurably(path.join(folder, 'x.html'), 'new')).toThrow()
    expect(readdirSync(folder)).toEqual(['x.html'])
  })

  // /dev/full refuses every byte as a full disk does; a link to it stands where the temporary file will be.
  it.runIf(existsSync('/dev/full'))('says in a sentence when the disk is full, and keeps the old file', () => {
    const file = path.join(temporaryFolder(), 'x.html')
    writeDurably(file, 'old')
    symlinkSync('/dev/full', path.join(path.dirname(file), `${TEMPORARY_PREFIX}x.html.${process.pid}`))
    const error = fault(() => writeDurably(file, 'new'))
    expect(error instanceof SpokenError && error.sentence).toBe(`${file}: the file could not be written (ENOSPC). Make room on the disk and repeat it.`)
    expect(readFileSync(file, 'utf8')).toBe('old')
    expect(readdirSync(path.dirname(file))).toEqual(['x.html'])
  })
})

function fault(work: () => unknown): unknown {
  try {
    work()
  } catch (error) {
    return error
  }
  return undefined
}
