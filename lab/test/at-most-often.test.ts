import { expect, it } from 'vitest'
import { atMostOften } from '../answers/at-most-often.ts'

it('calls too soon after one that came through are left out, the first never', () => {
  const heard: number[] = []
  let at = 5
  const call = atMostOften((value) => heard.push(value), { everyMilliseconds: 100, now: () => at })
  for (const [moment, value] of [[5, 1], [104, 2], [105, 3], [106, 4], [400, 5], [499, 6]]) {
    at = moment
    call(value)
  }
  expect(heard).toEqual([1, 3, 5])
})
