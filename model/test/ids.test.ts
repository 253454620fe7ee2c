// Ids: form, order, and the moment that they carry.
import * as fc from 'fast-check'
import { expect, test } from 'vitest'
import { createIdFactory, idSchema } from '../ids.ts'

test('an id is laid out as RFC 9562 section 5.7 says: 48 bits of milliseconds, version 7, variant 10', () => {
  // The moment and the random bits of the example in RFC 9562, appendix A.6: 017F22E2-79B0-7CC3-98C4-DC0C0C07398F. The first random bit after
  // the version is kept clear here, as room for counting.
  const random = [0, 0, 0, 0, 0, 0, 0x0c, 0xc3, 0x18, 0xc4, 0xdc, 0x0c, 0x0c, 0x07, 0x39, 0x8f]
  const newId = createIdFactory({ now: () => 0x017f22e279b0, fillRandom: (bytes) => bytes.set(random) })
  expect(newId()).toBe('017f22e2-79b0-74c3-98c4-dc0c0c07398f')
})

test('version and variant bits hold whatever the random bytes are', () => {
  fc.assert(
    fc.property(fc.uint8Array({ minLength: 16, maxLength: 16 }), fc.integer({ min: 0, max: 2 ** 48 - 1 }), (random, time) => {
      const id = createIdFactory({ now: () => time, fillRandom: (bytes) => bytes.set(random) })()
      expect(idSchema.safeParse(id).success).toBe(true)
      expect(id[14]).toBe('7')
      expect('89ab').toContain(id[19])
      // The first 48 bits, across the first dash.
      expect(Number.parseInt(id.replace('-', '').slice(0, 12), 16)).toBe(time)
    }),
  )
})

test('ids from one factory rise strictly as text, however the clock stands, steps back or leaps', () => {
  fc.assert(
    fc.property(fc.array(fc.integer({ min: 1_700_000_000_000, max: 1_700_000_000_050 }), { minLength: 2, maxLength: 200 }), fc.integer(), (times, seed) => {
      let at = 0
      let state = seed >>> 0
      const newId = createIdFactory({
        now: () => times[at++ % times.length],
        fillRandom: (bytes) => {
          for (let index = 0; index < bytes.length; index++) {
            state = (Math.imul(state, 1664525) + 1013904223) >>> 0
            bytes[index] = state >>> 24
          }
        },
      })
      const ids = times.map(() => newId())
      for (let index = 1; index < ids.length; index++) expect(ids[index] > ids[index - 1]).toBe(true)
    }),
  )
})

test('ten thousand ids of one millisecond still rise', () => {
  const newId = createIdFactory({ now: () => 1_700_000_000_000, fillRandom: (bytes) => bytes.fill(0xff) })
  const ids = Array.from({ length: 10_000 }, newId)
  expect(ids.toSorted()).toEqual(ids)
  expect(new Set(ids).size).toBe(10_000)
})

test.each(['', '017F22E2-79B0-7CC3-98C4-DC0C0C07398F', '017f22e279b074c398c4dc0c0c07398f', ' 017f22e2-79b0-74c3-98c4-dc0c0c07398f'])('%j is no id', (text) => {
  expect(idSchema.safeParse(text).success).toBe(false)
})
