// How long from a key to the frame that shows what it did, measured inside the page.
import type { Locator, Page } from 'playwright-core'

/** Milliseconds for each key typed into the field; the field is left as it was found. */
export async function typingTimes(page: Page, field: Locator, text: string): Promise<readonly number[]> {
  await field.focus()
  const before = await field.inputValue()
  await page.evaluate(WATCH)
  // One key after another, at the pace of a fast hand, so that no key waits for the one before.
  await page.keyboard.type(text, { delay: KEY_PAUSE_MS })
  await page.waitForTimeout(KEY_PAUSE_MS)
  const times: readonly number[] = await page.evaluate('globalThis.keyTimes')
  await field.fill(before)
  return times
}

const KEY_PAUSE_MS = 80

/** From the key's own time stamp to the task after the next frame was drawn. */
const WATCH = `(() => {
  globalThis.keyTimes = []
  if (globalThis.keysWatched) return
  globalThis.keysWatched = true
  addEventListener('keydown', (event) => {
    requestAnimationFrame(() => {
      const channel = new MessageChannel()
      channel.port1.onmessage = () => globalThis.keyTimes.push(performance.now() - event.timeStamp)
      channel.port2.postMessage(null)
    })
  }, true)
})()`
