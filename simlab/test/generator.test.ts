import { describe, expect, it } from 'vitest'
import { generatorFrom, namedStream } from '../generator.ts'

const first = (seed: number, name: string): readonly number[] => Array.from({ length: 4 }, namedStream(seed, name).word)

describe('generator', () => {
  it('gives the published first outputs of xoshiro128** from state 1, 2, 3, 4', () => {
    // The vector that ports of the authors' C program are tested with.
    const generator = generatorFrom([1, 2, 3, 4])
    const outputs = Array.from({ length: 10 }, () => generator.word())
    expect(outputs).toEqual([11520, 0, 5927040, 70819200, 2031721883, 1637235492, 1287239034, 3734860849, 3729100597, 4258142804])
  })

  it('refuses the all-zero state, from which the recurrence never leaves', () => {
    expect(() => generatorFrom([0, 0, 0, 0])).toThrow('state must not be all zero; got 0, 0, 0, 0')
  })

  it('repeats a stream by its name and makes another one for another name or seed', () => {
    expect(first(1, 'starts')).toEqual(first(1, 'starts'))
    expect(first(1, 'starts')).not.toEqual(first(1, 'samples'))
    expect(first(1, 'starts')).not.toEqual(first(2, 'starts'))
  })

  // Limits are four standard errors of the moment estimated from COUNT draws.
  const COUNT = 200_000
  const moments = (draw: () => number) => {
    const sums = [0, 0, 0, 0]
    for (let index = 0; index < COUNT; index++) {
      const value = draw()
      for (let power = 1; power <= 4; power++) sums[power - 1] += value ** power
    }
    return sums.map((sum) => sum / COUNT)
  }

  it('draws uniform numbers with mean 1/2 and second moment 1/3', () => {
    const [mean, second] = moments(namedStream(7, 'uniform').uniform)
    expect(Math.abs(mean - 1 / 2)).toBeLessThan(4 * Math.sqrt(1 / 12 / COUNT))
    expect(Math.abs(second - 1 / 3)).toBeLessThan(4 * Math.sqrt(4 / 45 / COUNT))
  })

  it('draws normal numbers with moments 0, 1, 0, 3', () => {
    const [mean, second, third, fourth] = moments(namedStream(7, 'normal').normal)
    expect(Math.abs(mean)).toBeLessThan(4 * Math.sqrt(1 / COUNT))
    expect(Math.abs(second - 1)).toBeLessThan(4 * Math.sqrt(2 / COUNT))
    expect(Math.abs(third)).toBeLessThan(4 * Math.sqrt(15 / COUNT))
    expect(Math.abs(fourth - 3)).toBeLessThan(4 * Math.sqrt(96 / COUNT))
  })

  it('draws Student t numbers with variance df / (df - 2) and fourth moment 3 df^2 / ((df - 2)(df - 4))', () => {
    const df = 12
    const [mean, second, , fourth] = moments(() => stream.studentT(df))
    // Eighth moment of t with 12 degrees of freedom: 105 df^4 / ((df-2)(df-4)(df-6)(df-8)).
    const exactFourth = (3 * df ** 2) / ((df - 2) * (df - 4))
    const exactEighth = (105 * df ** 4) / ((df - 2) * (df - 4) * (df - 6) * (df - 8))
    expect(Math.abs(mean)).toBeLessThan(4 * Math.sqrt(df / (df - 2) / COUNT))
    expect(Math.abs(second - df / (df - 2))).toBeLessThan(4 * Math.sqrt((exactFourth - (df / (df - 2)) ** 2) / COUNT))
    expect(Math.abs(fourth - exactFourth)).toBeLessThan(4 * Math.sqrt((exactEighth - exactFourth ** 2) / COUNT))
  })
  const stream = namedStream(7, 'student')

  it('draws Student t with 3 degrees of freedom beyond its 2.5 % points in 5 % of draws', () => {
    const three = namedStream(7, 'three')
    let beyond = 0
    // The published 97.5 % point of t with 3 degrees of freedom.
    for (let index = 0; index < COUNT; index++) if (Math.abs(three.studentT(3)) > 3.182446) beyond += 1
    expect(Math.abs(beyond / COUNT - 0.05)).toBeLessThan(4 * Math.sqrt((0.05 * 0.95) / COUNT))
  })

  it('picks every whole number below the limit about equally often', () => {
    const picker = namedStream(7, 'pick')
    const counts = [0, 0, 0, 0, 0]
    for (let index = 0; index < COUNT; index++) counts[picker.pick(5)] += 1
    for (const count of counts) expect(Math.abs(count / COUNT - 0.2)).toBeLessThan(4 * Math.sqrt(0.16 / COUNT))
  })
})
