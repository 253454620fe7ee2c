// The verdict words, from one interval and the smallest change that matters.
import type { Verdict } from '@guardband/model'
import type { Quality } from './quality.ts'

export interface VerdictInput {
  readonly estimate: number
  /** Null when there is no interval. */
  readonly halfWidth: number | null
  /** Smallest change that matters, on the same scale. */
  readonly threshold: number
}

/** Where an interval lies against zero and the smallest change that matters. */
export type Standing = 'faster' | 'faster-unclear' | 'faster-small' | 'same' | 'open' | 'slower' | 'slower-unclear' | 'slower-small'

export function standing({ estimate, halfWidth, threshold }: VerdictInput): Standing {
  if (halfWidth === null) return 'open'
  const low = estimate - halfWidth
  const high = estimate + halfWidth
  if (low > threshold) return 'faster'
  if (high < -threshold) return 'slower'
  if (low > 0) return high < threshold ? 'faster-small' : 'faster-unclear'
  if (high < 0) return low > -threshold ? 'slower-small' : 'slower-unclear'
  return low > -threshold && high < threshold ? 'same' : 'open'
}

/** A verdict still open or unclear is worth more bench time; the others are settled. */
export function isSettled(code: string): boolean {
  return code !== 'open' && code !== 'faster-unclear' && code !== 'slower-unclear'
}

export function verdictOf(input: VerdictInput, quality: Quality): Verdict {
  const code = standing(input)
  const better = capital(quality.better)
  const worse = capital(quality.worse)
  switch (code) {
    case 'faster':
      return { code, words: better, tone: 'up' }
    case 'faster-unclear':
      return { code, words: `${better}, how much is unclear`, tone: 'up' }
    case 'faster-small':
      return { code, words: `${better}, too small to matter`, tone: 'same' }
    case 'slower':
      return { code, words: worse, tone: 'down' }
    case 'slower-unclear':
      return { code, words: `${worse}, how much is unclear`, tone: 'down' }
    case 'slower-small':
      return { code, words: `${worse}, too small to matter`, tone: 'same' }
    case 'same':
      return { code, words: 'No difference that matters', tone: 'same' }
    case 'open':
      return { code, words: "Can't tell yet", tone: 'open' }
  }
}

export const NOT_FAIR: Verdict = { code: 'not-fair', words: 'Not a fair comparison', tone: 'stop' }
export const NO_ANSWER: Verdict = { code: 'no-answer', words: 'No answer', tone: 'stop' }

function capital(word: string): string {
  return word.charAt(0).toUpperCase() + word.slice(1)
}
