// The one-time address on its way to the browser: no other user of the machine gets hold of it, and the page opens.
import { chmodSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { dirname, join } from 'node:path'
import { pathToFileURL } from 'node:url'
import { chromium } from 'playwright-core'
import { afterAll, describe, expect, it } from 'vitest'
import { startHub } from '@guardband/hub'
import { createLab } from '@guardband/lab'
import { createIdFactory } from '@guardband/model'
import { writeOpeningPage } from '../opening-page.ts'
import { runCli, spawnCli } from './run-cli.ts'
import { CHROMIUM, fillRandom } from './real-page.ts'

const folder = mkdtempSync(join(tmpdir(), 'guardband-opening-'))
afterAll(() => rmSync(folder, { recursive: true, force: true }))

describe('the page that takes the address to the browser', () => {
  it('holds the address, for its owner only, and is gone after removal', () => {
    const url = `http://127.0.0.1:4890/open?token=${'x'.repeat(43)}`
    const { file, remove } = writeOpeningPage(folder, url)
    expect([statSync(file).mode & 0o777, statSync(dirname(file)).mode & 0o777]).toEqual([0o600, 0o700])
    expect(readFileSync(file, 'utf8')).toContain(`content="0; url=${url}"`)
    remove()
    remove()
    expect(readdirSync(folder)).toEqual([])
  })

  it('is made for no other address', () => {
    expect(() => writeOpeningPage(folder, 'http://127.0.0.1:4890/open?token=x"><script>')).toThrow(RangeError)
    expect(readdirSync(folder)).toEqual([])
  })

  it.skipIf(process.platform !== 'linux')('keeps the token out of the arguments of every process, works once, and is gone when the hub has ended', { timeout: 60_000 }, async () => {
    await runCli({ folder }, 'new', 'lab', '--name', 'Hollin & Pike')
    const [browser, seen] = [join(folder, 'browser'), join(folder, 'seen')]
    // What any user may read of all processes, the opener that started this one among them.
    writeFileSync(browser, `#!/bin/sh\nprintf '%s\\n' "$@" > "${seen}.own"\ncat /proc/[0-9]*/cmdline 2>/dev/null | tr '\\0' '\\n' > "${seen}.part"\nmv "${seen}.part" "${seen}"\n`)
    chmodSync(browser, 0o755)
    const child = spawnCli({ folder, env: { BROWSER: browser, DISPLAY: '', WAYLAND_DISPLAY: '', XDG_CURRENT_DESKTOP: '' } }, 'start', 'lab', '--port', '0')
    const ended = new Promise<number | null>((resolve) => child.once('exit', (code) => resolve(code)))
    const line = await new Promise<string>((resolve) => child.stdout.once('data', (part: Buffer) => resolve(part.toString())))
    const url = line.replace('Guardband: ', '').trim()
    const token = new URL(url).searchParams.get('token') ?? ''
    expect(token).toMatch(/^[\w-]{43}$/)

    const everyArgument = await readWhenThere(seen)
    const opened = readFileSync(`${seen}.own`, 'utf8').trim()
    expect(opened).toMatch(/lab\/opening-\w+\/guardband\.html$/)
    expect(everyArgument).toContain(opened)
    expect(everyArgument).not.toContain(token)
    expect(readFileSync(opened, 'utf8')).toContain(url)
    expect([(await fetch(url)).status, (await fetch(url)).status]).toEqual([200, 401])

    child.kill('SIGTERM')
    expect(await ended).toBe(0)
    expect(readdirSync(join(folder, 'lab')).filter((name) => name.startsWith('opening-'))).toEqual([])
  })

  it.skipIf(CHROMIUM === '')('opens the workspace in a browser, though the way began in a file', { timeout: 60_000 }, async () => {
    const web = join(folder, 'web')
    mkdirSync(web)
    writeFileSync(join(web, 'index.html'), '<!doctype html><title>the page itself</title>')
    const sources = { now, fillRandom, newId: createIdFactory({ now, fillRandom }) }
    const lab = createLab(join(folder, 'browsed'), { name: 'Hollin & Pike', currency: '' }, sources)
    const hub = await startHub({ lab, host: '127.0.0.1', port: 0, webFolder: web, who: 'Ada', sources: { ...sources, say: () => undefined }, createOwnLab: () => Promise.reject(new Error('no other workspace is made here')) })
    const browser = await chromium.launch({ executablePath: CHROMIUM, args: ['--no-sandbox', '--disable-gpu'] })
    try {
      const page = await browser.newPage()
      const { file } = writeOpeningPage(lab.folder, hub.url)
      const [reply] = await Promise.all([page.waitForResponse(`http://127.0.0.1:${hub.port}/`), page.goto(pathToFileURL(file).href).catch(() => undefined)])
      expect(reply.status()).toBe(200)
      await page.waitForURL(`http://127.0.0.1:${hub.port}/`)
      expect(await page.title()).toBe('the page itself')
    } finally {
      await browser.close()
      await hub.close()
    }
  })
})

async function readWhenThere(file: string): Promise<string> {
  for (;;) {
    try {
      return readFileSync(file, 'utf8')
    } catch {
      await new Promise((resolve) => setTimeout(resolve, 20))
    }
  }
}

function now(): number {
  return Date.now()
}
