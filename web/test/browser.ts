// A browser for the tests of the page, with everything off that would reach out of this machine.
import { fileURLToPath } from 'node:url'
import { chromium, type Browser, type BrowserContext, type Page } from 'playwright-core'
import { build } from 'vite'

export const CHROMIUM = process.env['CHROMIUM'] ?? ''

const WEB = fileURLToPath(new URL('..', import.meta.url))

/** Builds the page as it is now into a folder of its own. */
export async function buildPage(outDir: string): Promise<void> {
  await build({ root: WEB, configFile: `${WEB}/vite.config.ts`, logLevel: 'error', build: { outDir, emptyOutDir: true } })
}

export function startBrowser(): Promise<Browser> {
  const args = ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking', '--disable-component-update', '--disable-sync']
  return chromium.launch({ executablePath: CHROMIUM, args })
}

export interface Watched {
  readonly context: BrowserContext
  readonly page: Page
  /** Console errors and warnings, uncaught errors, reports of the content policy. */
  readonly complaints: string[]
}

export interface Look {
  readonly width: number
  readonly scheme: 'light' | 'dark'
}

export async function openPage(browser: Browser, look: Look = { width: 1280, scheme: 'light' }): Promise<Watched> {
  const context = await browser.newContext({ viewport: { width: look.width, height: 900 }, colorScheme: look.scheme, reducedMotion: 'reduce' })
  const page = await context.newPage()
  const complaints: string[] = []
  page.on('console', (message) => {
    if (message.type() === 'error' || message.type() === 'warning') complaints.push(message.text())
  })
  page.on('pageerror', (error) => complaints.push(error.message))
  await page.exposeFunction('complainOfPolicy', (text: string) => complaints.push(text))
  await page.addInitScript(() =>
    document.addEventListener('securitypolicyviolation', (event) => {
      // Exposed just above; the window's type cannot know it.
      void (window as unknown as { complainOfPolicy: (text: string) => Promise<void> }).complainOfPolicy(`policy: ${event.violatedDirective} ${event.blockedURI} ${event.sample}`)
    }),
  )
  return { context, page, complaints }
}
