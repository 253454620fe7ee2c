// The report as a browser shows it: accessible, nothing fetched, nothing run, laid out for the room there is.
import { AxeBuilder } from '@axe-core/playwright'
import { chromium, type Browser, type Page } from 'playwright-core'
import { textWidth, type TextStyle } from '@guardband/questions/text-width'
import { makeEstimate, sampleAnswer, verdicts, withEstimates } from '@guardband/questions/test/sample-answer'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { packagedTypefaces, renderReport, typefaceRules } from '../index.ts'

const executablePath = process.env['CHROMIUM'] ?? ''
/** For a container, where it runs as root without a display and is to talk to nobody. */
const flags = ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking', '--disable-component-update', '--disable-sync']

const input = { title: 'Two questions', lab: { name: 'Hollin & Pike', simulated: true }, at: '2026-11-03T14:05:00Z', number: 7 }
const stopped = { ...sampleAnswer, cautions: [{ code: 'x', severity: 'stops' as const, title: 'Firmware differs', text: 'Side A ran another firmware.', records: [] }] }
const hostile = '"><img src=http://127.0.0.1:9/x onerror="document.title=1"><script>document.title=1</script><svg onload=document.title=1>'

describe.skipIf(executablePath === '')('in a browser', () => {
  let browser: Browser

  beforeAll(async () => {
    browser = await chromium.launch({ executablePath, args: flags })
  })

  afterAll(() => browser.close())

  async function open(document: string, options: { readonly width: number; readonly colorScheme: 'light' | 'dark' }): Promise<{ readonly page: Page; readonly requests: readonly string[] }> {
    const context = await browser.newContext({ viewport: { width: options.width, height: 900 }, colorScheme: options.colorScheme })
    const page = await context.newPage()
    const requests: string[] = []
    page.on('request', (request) => {
      if (!request.url().startsWith('data:')) requests.push(request.url())
    })
    await page.setContent(document)
    return { page, requests }
  }

  test.each([
    [1440, 'light'],
    [1440, 'dark'],
    [390, 'light'],
    [390, 'dark'],
  ] as const)('axe finds nothing and nothing runs out of the page at %d px, %s', async (width, colorScheme) => {
    const { page } = await open(renderReport({ ...input, answers: [sampleAnswer, stopped] }), { width, colorScheme })
    const found = await new AxeBuilder({ page }).analyze()
    expect(found.violations.map((violation) => `${violation.id}: ${violation.nodes.map((node) => node.html).join(' ')}`)).toEqual([])
    expect(found.passes.length).toBeGreaterThan(10)
    expect(await page.evaluate('document.documentElement.scrollWidth')).toBe(width)
    await page.context().close()
  })

  test.each([
    [390, 'fit-narrow'],
    [700, 'fit-middle'],
    [1440, 'fit-wide'],
  ])('at %d px exactly the %s picture is shown', async (width, fit) => {
    const { page } = await open(renderReport({ ...input, answers: [sampleAnswer] }), { width, colorScheme: 'light' })
    const shown = await page.locator('figure').first().locator('svg.picture:visible').evaluateAll((pictures) => pictures.map((picture) => String(picture.getAttribute('class'))))
    expect(shown).toHaveLength(1)
    expect(shown[0].split(' ')).toContain(fit)
    await page.context().close()
  })

  test('a hostile name makes no element, no handler, no request', async () => {
    const answer = withEstimates([makeEstimate({ key: hostile, label: hostile, group: hostile, note: hostile, verdict: verdicts.open, low: null, high: null })])
    const { page, requests } = await open(renderReport({ ...input, title: hostile, answers: [{ ...answer, sides: [hostile, hostile], question: { id: 'x', title: hostile } }] }), { width: 1440, colorScheme: 'light' })
    expect(await page.locator('script, img, iframe, object, link').count()).toBe(0)
    const handlers = await page.locator('*').evaluateAll((elements) => elements.flatMap((element) => element.getAttributeNames().filter((name: string) => name.startsWith('on'))))
    expect(handlers).toEqual([])
    expect(requests).toEqual([])
    expect(await page.title()).toContain('<script>')
    await page.context().close()
  })

  test('on paper no table row and no picture is cut, and pages are A4', async () => {
    const { page } = await open(renderReport({ ...input, answers: [sampleAnswer, stopped] }), { width: 1440, colorScheme: 'dark' })
    await page.emulateMedia({ media: 'print' })
    const style = (selector: string, property: string) => page.evaluate<string>(`getComputedStyle(document.querySelector('${selector}')).getPropertyValue('${property}')`)
    expect(await style('tr', 'break-inside')).toBe('avoid')
    expect(await style('figure', 'break-inside')).toBe('avoid')
    expect(await style('thead', 'display')).toBe('table-header-group')
    expect(await style('article + article', 'break-before')).toBe('page')
    // A dark screen theme must not reach the paper.
    expect(await style('h2', 'color')).toBe('rgb(27, 31, 29)')
    const pdf = await page.pdf({ format: 'A4', preferCSSPageSize: true })
    expect(pdf.subarray(0, 5).toString()).toBe('%PDF-')
    await page.context().close()
  })

  test('no character is wider than the bound that pictures are laid out with, in the look’s typefaces and in the fallback', async () => {
    const { page } = await open(`<style>${typefaceRules(packagedTypefaces())}</style>`, { width: 800, colorScheme: 'light' })
    const characters = [...range(0x20, 0x7e), ...range(0xa1, 0x17f), ...Array.from('−…—·\u202f\ufffd漢ЖщΩשع😀ම')]
    const faces: readonly (TextStyle & { readonly font: string })[] = (['regular', 'bold'] as const).flatMap((weight) => [
      ...['"Atkinson Hyperlegible Next Variable"', 'system-ui', 'sans-serif'].map((family) => ({ size: 100, face: 'text' as const, weight, font: `${weight === 'bold' ? 'bold ' : ''}100px ${family}` })),
      ...['"Atkinson Hyperlegible Mono Variable"', 'monospace'].map((family) => ({ size: 100, face: 'mono' as const, weight, font: `${weight === 'bold' ? 'bold ' : ''}100px ${family}` })),
    ])
    for (const face of faces) {
      const measured = await page.evaluate<readonly number[]>(`(${MEASURE})(${JSON.stringify({ font: face.font, characters })})`)
      expect(measured.some((width) => width > 50), face.font).toBe(true)
      const tooWide = characters.flatMap((character, index) => (measured[index] > textWidth(character, face) ? [`${character} is ${measured[index]}, bound ${textWidth(character, face)}`] : []))
      expect(tooWide, face.font).toEqual([])
    }
    await page.context().close()
  })
})

/** Runs in the page. */
const MEASURE = `async ({ font, characters }) => {
  await document.fonts.load(font)
  const pen = document.createElement('canvas').getContext('2d')
  pen.font = font
  return characters.map((character) => pen.measureText(character).width)
}`

function range(from: number, to: number): readonly string[] {
  return Array.from({ length: to - from + 1 }, (_, index) => String.fromCodePoint(from + index))
}
