// Equal content has an equal name, on every machine; expected digests are published ones.
import canonicalize from 'canonicalize'
import { anything, assert, jsonValue, property } from 'fast-check'
import { expect, test } from 'vitest'
import { canonicalJson, contentDigest, sha256Hex } from '../digest.ts'
import { SpokenError } from '../errors.ts'

test('SHA-256 agrees with the examples of FIPS 180-2, appendix B', () => {
  expect(sha256Hex('abc')).toBe('ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad')
  expect(sha256Hex('abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq')).toBe('248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1')
  expect(sha256Hex(new TextEncoder().encode('abc'))).toBe(sha256Hex('abc'))
})

test('canonical JSON agrees with the example of RFC 8785, section 3.2.2', () => {
  const input = JSON.parse('{"numbers":[333333333.33333329,1E30,4.50,2e-3,0.000000000000000000000000001],"string":"\\u20ac$\\u000F\\u000aA\'\\u0042\\u0022\\u005c\\\\\\"\\/","literals":[null,true,false]}')
  expect(canonicalJson(input)).toBe('{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],"string":"€$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}')
})

test('keys sort by UTF-16 code units, as in RFC 8785, section 3.2.3', () => {
  const input = { '\u20ac': 1, '\r': 2, '\ufb33': 3, '1': 4, '\u{1f600}': 5, '\u0080': 6, '\u00f6': 7 }
  expect(Object.values(JSON.parse(`[${canonicalJson(input).slice(1, -1).replace(/"[^"]*":/g, '')}]`))).toEqual([2, 4, 6, 7, 1, 5, 3])
})

test('the order of keys does not change a digest, the order of items and every value does', () => {
  expect(contentDigest({ a: 1, b: [1, 2] })).toBe(contentDigest({ b: [1, 2], a: 1 }))
  expect(contentDigest({ a: 1, b: [2, 1] })).not.toBe(contentDigest({ a: 1, b: [1, 2] }))
  expect(contentDigest({ a: 1 })).not.toBe(contentDigest({ a: 1 + Number.EPSILON }))
  expect(contentDigest({ a: '1' })).not.toBe(contentDigest({ a: 1 }))
})

test('a digest survives being written and read', () => {
  assert(
    property(jsonValue(), (value) => {
      expect(contentDigest(JSON.parse(JSON.stringify(value)))).toBe(contentDigest(value))
    }),
  )
})

test('agrees with the library of RFC 8785 on whatever it is given', () => {
  assert(
    property(anything({ withNullPrototype: true, withDate: true, withBoxedValues: true }), (value) => {
      const [ours, theirs] = [() => canonicalJson(value), () => canonicalize(value)].map((make) => {
        try {
          return make() ?? 'refused'
        } catch {
          return 'refused'
        }
      })
      expect(ours).toBe(theirs)
    }),
  )
})

test('objects with as many keys as the one before are written by their own keys', () => {
  expect([{ b: 1, a: 2 }, { a: 3, b: 4 }, { d: 5, c: 6 }, { b: 7, a: 8 }].map(canonicalJson)).toEqual(['{"a":2,"b":1}', '{"a":3,"b":4}', '{"c":6,"d":5}', '{"a":8,"b":7}'])
})

test('what JSON cannot hold is refused with a code', () => {
  for (const value of [Number.NaN, Number.POSITIVE_INFINITY, undefined, { a: [Number.NaN] }]) {
    expect(() => contentDigest(value)).toThrow(SpokenError)
    expect(() => contentDigest(value)).toThrow(expect.objectContaining({ code: 'not-json' }))
  }
})
