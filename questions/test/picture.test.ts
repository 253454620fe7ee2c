// What the Gain picture shows, read from its layout and its tree.
import { contentDigest, type Answer, type Estimate } from '@guardband/model'
import { array, assert, constantFrom, double, oneof, option, property, record, string, type Arbitrary } from 'fast-check'
import { describe, expect, test } from 'vitest'
import { boxOf, layOutGain, type GainLayout, type TextItem } from '../gain/layout.ts'
import { picture, pictureText, toneMark } from '../gain/picture.ts'
import { plottedRange } from '../gain/range.ts'
import type { PictureNode } from '../picture-node.ts'
import { makeEstimate, sampleAnswer, verdicts, withEstimates } from './sample-answer.ts'

const scope = 'these samples'
const widths = [240, 340, 519, 520, 760, 1200]

function all(root: PictureNode): readonly PictureNode[] {
  return [root, ...root.children.flatMap((child) => (typeof child === 'string' ? [] : all(child)))]
}

function ofClass(root: PictureNode, name: string): readonly PictureNode[] {
  return all(root).filter((node) => String(node.attributes['class'] ?? '').split(' ').includes(name))
}

function draw(answer: Answer, width = 760): PictureNode {
  return picture(answer, { scope, width })
}

function rowOf(root: PictureNode, key: string): PictureNode {
  const row = ofClass(root, 'row').find((node) => node.attributes['data-key'] === key)
  if (row === undefined) throw new Error(`no row ${key}`)
  return row
}

function thickness(key: string): number {
  return Number(ofClass(rowOf(draw(sampleAnswer), key), 'interval')[0].attributes['stroke-width'])
}

function fillOfPoint(low: number): string {
  const answer = withEstimates([makeEstimate({ key: 'a', label: 'a', value: 2, low, high: 3, verdict: verdicts.faster })])
  return String(ofClass(rowOf(draw(answer), 'a'), 'point')[0].attributes['fill'])
}

function labelled(key: string, group?: string): Estimate {
  return makeEstimate({ key, label: key, ...(group === undefined ? {} : { group }) })
}

function textsOf(layout: GainLayout): readonly TextItem[] {
  return [...layout.texts, ...layout.panels.flatMap((panel) => [...panel.texts, ...panel.rows.flatMap((row) => row.texts)])]
}

function expectTextsApartAndInside(answer: Answer, width: number): void {
  const layout = layOutGain(answer, { scope, width })
  const boxes = textsOf(layout).map((item) => ({ text: item.text, ...boxOf(item) }))
  for (const box of boxes) {
    expect(box.left, box.text).toBeGreaterThanOrEqual(-0.01)
    expect(box.right, box.text).toBeLessThanOrEqual(layout.width + 0.01)
    expect(box.top, box.text).toBeGreaterThanOrEqual(0)
    expect(box.bottom, box.text).toBeLessThanOrEqual(layout.height)
  }
  for (const [index, a] of boxes.entries()) {
    for (const b of boxes.slice(index + 1)) {
      const apart = a.right <= b.left + 0.01 || b.right <= a.left + 0.01 || a.bottom <= b.top + 0.01 || b.bottom <= a.top + 0.01
      expect(apart, `"${a.text}" and "${b.text}" at width ${width}`).toBe(true)
    }
  }
}

const manyWorkloads = withEstimates([
  ...Array.from({ length: 40 }, (_, index) =>
    makeEstimate({ key: `workload:${index}`, label: `workload number ${index} with a preset`, group: `group ${index % 5}`, value: index / 4 - 3, low: index / 4 - 3.6, high: index / 4 - 2.4 }),
  ),
  makeEstimate({ key: 'overall', role: 'overall', label: 'Overall (weighted)' }),
])
const longNames = withEstimates([
  makeEstimate({ key: 'a', label: 'word '.repeat(40).trim(), group: 'g'.repeat(200) }),
  makeEstimate({ key: 'b', label: 'W'.repeat(200), group: '漢'.repeat(100) }),
  makeEstimate({ key: 'c', label: 'short', value: null, low: null, high: null, verdict: null, note: 'Every run failed. '.repeat(20) }),
  makeEstimate({ key: 'd', label: 'short too', low: null, high: null, verdict: verdicts.open }),
  makeEstimate({ key: 'overall', role: 'overall', label: 'M'.repeat(100) }),
])
const twoUnits = withEstimates([
  makeEstimate({ key: 'a', label: 'code build' }),
  makeEstimate({ key: 't', label: 'hotspot', unit: 'degC', value: -3, low: -5, high: -2.2, bandLow: -2, bandHigh: 2 }),
  makeEstimate({ key: 'n', label: 'noise', unit: 'dBA', value: 0.2, low: -0.3, high: 0.7, verdict: verdicts.same }),
  makeEstimate({ key: 'overall', role: 'overall', label: 'Overall (weighted)' }),
])

describe('rows', () => {
  test('every estimate of the scope is drawn once, and none of the other scope', () => {
    for (const width of widths) {
      const keys = ofClass(draw(sampleAnswer, width), 'row').map((row) => row.attributes['data-key'])
      const wanted = sampleAnswer.estimates.filter((estimate) => estimate.scope === scope).map((estimate) => estimate.key)
      expect(keys).toHaveLength(wanted.length)
      expect(new Set(keys)).toEqual(new Set(wanted))
    }
    expect(pictureText(picture(sampleAnswer, { scope: 'samples like these', width: 760 }))).not.toBe(pictureText(draw(sampleAnswer)))
  })

  test('groups and overall stand at the foot, after a rule, the overall last and heaviest', () => {
    const layout = layOutGain(sampleAnswer, { scope, width: 760 })
    const [panel] = layout.panels
    expect(panel.rows.map((row) => row.weight)).toEqual([...Array(6).fill('workload'), 'group', 'group', 'overall'])
    const [rule] = panel.rules
    for (const row of panel.rows) expect(row.weight === 'workload' ? row.y < rule : row.y > rule).toBe(true)
    expect(thickness('overall')).toBeGreaterThan(thickness('group:Many cores'))
    expect(thickness('group:Many cores')).toBeGreaterThan(thickness('workload:w1'))
  })

  test('a single workload is not repeated at the foot', () => {
    const answer = withEstimates([makeEstimate({ key: 'a', label: 'code build' }), makeEstimate({ key: 'overall', role: 'overall', label: 'code build' })])
    expect(ofClass(draw(answer), 'row').map((row) => row.attributes['data-key'])).toEqual(['a'])
  })

  test('groups come in the order of their first workload, and what has no group is headed so', () => {
    const layout = layOutGain(withEstimates([labelled('a', 'Many cores'), labelled('b'), labelled('c', 'Many cores')]), { scope, width: 760 })
    expect(textsOf(layout).filter((item) => item.role === 'group').map((item) => item.text)).toEqual(['Many cores', 'Other'])
    expect(layout.panels[0].rows.map((row) => row.estimate.key)).toEqual(['a', 'c', 'b'])
    const plain = layOutGain(withEstimates([labelled('a'), labelled('b')]), { scope, width: 760 })
    expect(textsOf(plain).filter((item) => item.role === 'group')).toEqual([])
  })

  test('what money is worth is not a row of the picture', () => {
    const answer = withEstimates([...sampleAnswer.estimates, makeEstimate({ key: 'worth:break-even', role: 'worth', label: 'Break-even', unit: 'EUR', value: 41 })])
    expect(pictureText(draw(answer))).toBe(pictureText(draw(sampleAnswer)))
  })

  test('each unit has a panel with its own axis, the one of the overall first', () => {
    const layout = layOutGain(twoUnits, { scope, width: 760 })
    expect(layout.panels.map((panel) => panel.unit)).toEqual(['%', 'degC', 'dBA'])
    expect(textsOf(layout).filter((item) => item.role === 'axis').map((item) => item.text)).toEqual(['gain, %', 'difference, °C', 'difference, dBA'])
  })

  test('without estimates the picture says why', () => {
    const empty = { ...withEstimates([]), views: [{ scope, headline: [{ text: 'No answer.' }], verdict: verdicts.open, unavailable: 'Side B has no runs.' }] } satisfies Answer
    expect(pictureText(draw(empty))).toContain('Side B has no runs.')
  })
})

describe('positions', () => {
  test('point, interval, band and zero stand where the axis says', () => {
    for (const width of widths) {
      const answer = withEstimates([makeEstimate({ key: 'a', label: 'code build', value: 2, low: 1, high: 3, bandLow: -1, bandHigh: 1, verdict: verdicts.open })])
      const root = draw(answer, width)
      const zero = Number(ofClass(root, 'zero')[0].attributes['x1'])
      const [band] = ofClass(root, 'band')
      const one = Number(band.attributes['width']) / 2
      expect(Number(band.attributes['x'])).toBeCloseTo(zero - one, 1)
      const row = rowOf(root, 'a')
      expect(Number(ofClass(row, 'point')[0].attributes['cx'])).toBeCloseTo(zero + 2 * one, 1)
      expect(Number(ofClass(row, 'interval')[0].attributes['x1'])).toBeCloseTo(zero + one, 1)
      expect(Number(ofClass(row, 'interval')[0].attributes['x2'])).toBeCloseTo(zero + 3 * one, 1)
    }
  })

  test('workloads with limits of their own get their own stretch of band', () => {
    const answer = withEstimates([makeEstimate({ key: 'a', label: 'a' }), makeEstimate({ key: 'b', label: 'b', bandLow: -3, bandHigh: 3 })])
    const bands = ofClass(draw(answer), 'band')
    expect(bands).toHaveLength(2)
    expect(Number(bands[1].attributes['width'])).toBeCloseTo(3 * Number(bands[0].attributes['width']), 1)
  })

  test('the range always holds zero, the bands and the overall, and most rows', () => {
    const rows = [1, 2, 3, 4, 5].map((value) => makeEstimate({ key: `w${value}`, label: 'w', value, low: value - 1, high: value + 1 }))
    const wild = makeEstimate({ key: 'wild', label: 'wild', value: 2, low: -500, high: 800 })
    const overall = makeEstimate({ key: 'overall', role: 'overall', label: 'Overall', value: 12, low: -20, high: 44 })
    const narrow = plottedRange([...rows, wild])
    expect(narrow.low).toBeLessThan(-1)
    expect(narrow.high).toBeGreaterThan(6)
    expect(narrow.high).toBeLessThan(40)
    const withOverall = plottedRange([...rows, wild, overall])
    expect(withOverall.low).toBeLessThan(-20)
    expect(withOverall.high).toBeGreaterThan(44)
  })

  test('an interval that runs out of the range ends in an arrow on that side', () => {
    const rows = [1, 2, 3, 4].map((value) => makeEstimate({ key: `w${value}`, label: 'w', value, low: value - 1, high: value + 1 }))
    const root = draw(withEstimates([...rows, makeEstimate({ key: 'wild', label: 'wild', value: 2, low: -500, high: 3 })]))
    expect(ofClass(root, 'arrow')).toHaveLength(1)
    const [arrow] = ofClass(rowOf(root, 'wild'), 'arrow')
    const tip = Number(/^M([\d.]+)/.exec(String(arrow.attributes['d']))?.[1])
    expect(tip).toBeLessThan(Number(ofClass(root, 'band')[0].attributes['x']))
  })

  test('a point past the range is not drawn as if it lay within', () => {
    const rows = [1, 2, 3, 4].map((value) => makeEstimate({ key: `w${value}`, label: 'w', value, low: value - 1, high: value + 1 }))
    const row = rowOf(draw(withEstimates([...rows, makeEstimate({ key: 'wild', label: 'wild', value: 900, low: 800, high: 1000 })])), 'wild')
    expect(ofClass(row, 'point')).toHaveLength(0)
    expect(ofClass(row, 'arrow')).toHaveLength(1)
    expect(pictureText(row)).toContain('off the axis')
  })
})

describe('what is not known', () => {
  test('a row without value says why and has no mark', () => {
    const row = rowOf(draw(withEstimates([makeEstimate({ key: 'c', label: 'code build', value: null, low: null, high: null, verdict: null, note: 'Every run of it failed.' })])), 'c')
    expect(pictureText(row)).toContain('Every run of it failed.')
    expect([...ofClass(row, 'point'), ...ofClass(row, 'interval'), ...ofClass(row, 'stub')]).toEqual([])
  })

  test('a row without interval has a hollow point, a dashed stub and says so', () => {
    const row = rowOf(draw(withEstimates([makeEstimate({ key: 'c', label: 'code build', low: null, high: null, verdict: verdicts.faster })])), 'c')
    expect(pictureText(row)).toContain('no interval')
    expect(ofClass(row, 'stub')[0].attributes['stroke-dasharray']).toBeDefined()
    expect(ofClass(row, 'interval')).toEqual([])
    expect(ofClass(row, 'point')[0].attributes['fill']).toContain('--sheet')
  })
})

describe('reading without colour', () => {
  test('each tone has a shape of its own', () => {
    const tones = ['up', 'down', 'same', 'open', 'stop'] as const
    const shapes = tones.map((tone) => {
      const [, mark] = all(toneMark(tone))
      return `${mark.tag} ${String(mark.attributes['d'] ?? mark.attributes['r'])}`
    })
    expect(new Set(shapes).size).toBe(tones.length)
  })

  test('an unfair comparison is hatched', () => {
    const row = rowOf(draw(withEstimates([makeEstimate({ key: 'a', label: 'a', verdict: verdicts.unfair })])), 'a')
    expect(ofClass(row, 'hatch')).toHaveLength(1)
  })

  test('the point is filled only where the whole interval lies beyond the band', () => {
    expect(fillOfPoint(1.1)).toContain('--up')
    expect(fillOfPoint(0.9)).toContain('--sheet')
  })

  test('the description names every row with its verdict', () => {
    const text = pictureText(draw(sampleAnswer))
    expect(text).toContain('Slower: photo stack.')
    expect(text).toContain('1.8 % overall, between 1.3 and 2.3 %')
  })
})

describe('text', () => {
  test.each([
    ['the sample', sampleAnswer],
    ['40 workloads', manyWorkloads],
    ['names of 200 characters', longNames],
    ['three units', twoUnits],
    ['a point without interval at the right edge', withEstimates([makeEstimate({ key: 'a', label: 'a', value: 9, low: null, high: null }), makeEstimate({ key: 'b', label: 'b', value: -9, low: null, high: null })])],
    ['one workload', withEstimates([makeEstimate({ key: 'a', label: 'a', value: -2.25, low: -1e6, high: 1e6 })])],
  ])('never overlaps and is never cut off: %s', (_, answer) => {
    for (const width of widths) expectTextsApartAndInside(answer, width)
  })

  test('a long name takes two lines, ends in an ellipsis and stands whole in a title', () => {
    const row = rowOf(draw(longNames), 'a')
    const labels = ofClass(row, 'label')
    expect(labels).toHaveLength(2)
    expect(labels[1].children.at(-1)).toMatch(/…$/)
    expect(pictureText(labels[1])).toContain(`<title>${'word '.repeat(40).trim()}</title>`)
  })

  test('hostile names come out as text', () => {
    const label = '<script>alert(1)</script>"\u0000\ud800\u202eevil'
    const text = pictureText(draw(withEstimates([makeEstimate({ key: 'k', label, group: label, note: label })])))
    expect(text).not.toContain('<script')
    // oxlint-disable-next-line no-control-regex -- looks for control characters
    expect(text).not.toMatch(/[\u0000-\u0008\u202e]/)
    expect(text.isWellFormed()).toBe(true)
  })
})

test('the same answer gives the same picture', () => {
  expect(contentDigest(draw(structuredClone(sampleAnswer)))).toBe(contentDigest(draw(sampleAnswer)))
})

test('a width that is no number is refused', () => {
  for (const width of [Number.NaN, Number.POSITIVE_INFINITY, 0, -3]) expect(() => draw(sampleAnswer, width)).toThrow(/width must be/)
})

const anyNumber = oneof(double({ noNaN: true, noDefaultInfinity: true }), double({ min: -100, max: 100, noNaN: true }), constantFrom(0, -0, Number.MAX_VALUE, -Number.MAX_VALUE, Number.MIN_VALUE))
const anyEstimate: Arbitrary<Partial<Estimate>> = record({
  role: constantFrom('workload', 'workload', 'group', 'overall'),
  label: string({ maxLength: 200, unit: 'binary' }),
  group: constantFrom(undefined, 'one', 'two'),
  value: option(anyNumber),
  low: option(anyNumber),
  high: option(anyNumber),
  bandLow: option(anyNumber),
  bandHigh: option(anyNumber),
  unit: constantFrom('%', '%', 'degC', 'points'),
  verdict: constantFrom(null, ...Object.values(verdicts)),
  note: string({ maxLength: 300 }),
})

test('any finite figures give finite attributes, at any width', () => {
  assert(
    property(array(anyEstimate, { maxLength: 12 }), double({ min: 1, max: 3000, noNaN: true }), (parts, width) => {
      const answer = withEstimates(parts.map((part, index) => makeEstimate({ label: '', ...part, key: `k${index}` })))
      for (const node of all(draw(answer, width))) {
        for (const [name, value] of Object.entries(node.attributes)) {
          if (typeof value === 'number') expect(Number.isFinite(value), `${node.tag} ${name}`).toBe(true)
          else if (name !== 'data-key') expect(value, `${node.tag} ${name}`).not.toMatch(/NaN|Infinity|undefined/)
          if (name === 'width' || name === 'height' || name === 'r') expect(Number(value)).toBeGreaterThanOrEqual(0)
        }
      }
    }),
    { numRuns: 300 },
  )
})

test('tick labels read as figures: true minus, plus signs, decimals of the step', () => {
  const ticks = textsOf(layOutGain(sampleAnswer, { scope, width: 760 })).filter((item) => item.role === 'tick').map((item) => item.text)
  expect(ticks).toEqual(['−2', '−1', '0', '+1', '+2', '+3', '+4'])
})
