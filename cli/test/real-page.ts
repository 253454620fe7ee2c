// The real page, a browser for it, and sources of time and ids as in life: what tests of the whole need.
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { chromium, type Browser, type LaunchOptions } from 'playwright-core'
import { build } from 'vite'
import type { LabSources } from '@guardband/lab'
import { createIdFactory } from '@guardband/model'

export const CHROMIUM = process.env['CHROMIUM'] ?? ''

const WEB = fileURLToPath(new URL('../../web', import.meta.url))

export async function buildPage(outDir: string): Promise<void> {
  await build({ root: WEB, configFile: join(WEB, 'vite.config.ts'), logLevel: 'error', build: { outDir, emptyOutDir: true } })
}

export function startBrowser(more: LaunchOptions = {}): Promise<Browser> {
  const args = ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking', '--disable-component-update', '--disable-sync']
  return chromium.launch({ executablePath: CHROMIUM, args, ...more })
}

function wallClock(): number {
  return Date.now()
}

export function fillRandom(bytes: Uint8Array): void {
  crypto.getRandomValues(bytes)
}

export const realSources: LabSources = { now: wallClock, newId: createIdFactory({ now: wallClock, fillRandom }) }

/** A hub with nothing to say. */
export const hubSources = { now: wallClock, fillRandom, say: (): void => undefined }
