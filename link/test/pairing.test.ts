// Codes: short-lived, good once, dead after a few wrong tries; and how often anybody may try.
import { describe, expect, it } from 'vitest'
import { CODE_LIFE_MS, createPairing, TRIES_A_CODE, TRIES_AN_ADDRESS, TRIES_IN_ALL, WINDOW_MS, type Pairing } from '../pairing.ts'

const START = Date.parse('2026-03-03T08:00:00Z')

function begin(): { readonly pairing: Pairing; readonly wait: (milliseconds: number) => void } {
  let now = START
  return { pairing: createPairing({ now: () => now, fillRandom: (bytes) => void crypto.getRandomValues(bytes) }), wait: (milliseconds) => (now += milliseconds) }
}

describe('a code', () => {
  it('has eight letters and digits that nobody confuses, each place as likely as the other', () => {
    const { pairing } = begin()
    const counts = new Map<string, number>()
    for (let draw = 0; draw < 4000; draw++) {
      const { code } = pairing.open()
      expect(code).toMatch(/^[2-9A-HJKMNP-Z]{4}-[2-9A-HJKMNP-Z]{4}$/)
      for (const letter of code.replace('-', '')) counts.set(letter, (counts.get(letter) ?? 0) + 1)
    }
    expect(counts.size).toBe(31)
    // 32,000 draws over 31 letters: 1,032 each, standard deviation 31.6; 6 of them are passed by chance once in 10^7 runs.
    for (const [letter, count] of counts) expect([letter, Math.abs(count - 32_000 / 31) < 6 * 31.6]).toEqual([letter, true])
  })

  it('is good once, in small letters and with spaces too', () => {
    const { pairing } = begin()
    const { code } = pairing.open()
    expect(pairing.try(` ${code.toLowerCase().replace('-', ' ')} `, 'a')).toEqual({ result: 'right' })
    expect(pairing.try(code, 'a')).toEqual({ result: 'wrong' })
  })

  it('is good for five minutes, and then never again', () => {
    const { pairing, wait } = begin()
    const first = pairing.open()
    expect(first.until).toBe(new Date(START + CODE_LIFE_MS).toISOString())
    wait(CODE_LIFE_MS - 1)
    expect(pairing.state()).toEqual({ state: 'open', until: first.until })
    wait(1)
    expect(pairing.try(first.code, 'a')).toEqual({ result: 'wrong' })
    expect(pairing.state()).toEqual({ state: 'too late' })
    expect(pairing.try(pairing.open().code, 'a')).toEqual({ result: 'right' })
  })

  it('is void once a newer one was made', () => {
    const { pairing } = begin()
    const { code } = pairing.open()
    pairing.open()
    expect(pairing.try(code, 'a')).toEqual({ result: 'wrong' })
  })

  it('dies of the fifth wrong try, whoever made them', () => {
    const { pairing } = begin()
    const { code } = pairing.open()
    for (let place = 0; place < TRIES_A_CODE; place++) {
      expect(pairing.state().state).toBe('open')
      expect(pairing.try('AAAA-AAAA', `address ${place}`)).toEqual({ result: 'wrong' })
    }
    expect(pairing.state()).toEqual({ state: 'too many wrong tries' })
    expect(pairing.try(code, 'another')).toEqual({ result: 'wrong' })
  })

  it('an empty one opens nothing, with and without a code waiting', () => {
    const { pairing } = begin()
    expect(pairing.try('', 'a')).toEqual({ result: 'wrong' })
    pairing.open()
    expect(pairing.try('', 'a')).toEqual({ result: 'wrong' })
  })
})

describe('tries', () => {
  it('from one address must wait after eight wrong ones in ten minutes, even with the right code', () => {
    const { pairing, wait } = begin()
    for (let place = 0; place < TRIES_AN_ADDRESS; place++) {
      expect(pairing.try('AAAA-AAAA', 'a').result).toBe('wrong')
      wait(1000)
    }
    const { code } = pairing.open()
    expect(pairing.try(code, 'a')).toEqual({ result: 'too often', waitSeconds: WINDOW_MS / 1000 - TRIES_AN_ADDRESS })
    expect(pairing.try(code, 'b')).toEqual({ result: 'right' })
    wait(WINDOW_MS - TRIES_AN_ADDRESS * 1000)
    expect(pairing.try(pairing.open().code, 'a')).toEqual({ result: 'right' })
  })

  it('from all addresses together must wait after thirty', () => {
    const { pairing, wait } = begin()
    for (let place = 0; place < TRIES_IN_ALL; place++) expect(pairing.try('AAAA-AAAA', `address ${place}`).result).toBe('wrong')
    expect(pairing.try(pairing.open().code, 'a new one')).toEqual({ result: 'too often', waitSeconds: WINDOW_MS / 1000 })
    wait(WINDOW_MS)
    expect(pairing.try(pairing.open().code, 'a new one')).toEqual({ result: 'right' })
  })
})
