// The lowest point of a smooth profile in one variable: a coarse scan, then Newton's method kept inside a bracket.

import type { ProfilePoint } from './row-profile.ts'

export interface ProfileMinimum {
  /** 'inside' is a stationary point; 'low' and 'high' say that the profile still falls at that end of the range. */
  readonly place: 'inside' | 'low' | 'high'
  readonly point: ProfilePoint | null
  readonly evaluations: number
}

export interface ProfileRange {
  readonly low: number
  readonly high: number
}

/** A profile seen two ways: its height alone, and with derivatives. Height is Infinity and `at` null where it cannot be evaluated. */
export interface Profile {
  readonly height: (phi: number) => number
  readonly at: (phi: number) => ProfilePoint | null
}

/** Minimises over the range; the scan uses heights only. */
export function minimiseProfile(profile: Profile, { low, high }: ProfileRange): ProfileMinimum {
  const steps = Math.ceil((high - low) / SCAN_STEP)
  let evaluations = 0
  const evaluate = (phi: number): ProfilePoint | null => {
    evaluations += 1
    return profile.at(phi)
  }

  let best = -1
  let bestHeight = Infinity
  for (let i = 0; i <= steps; i++) {
    const height = profile.height(low + ((high - low) * i) / steps)
    evaluations += 1
    if (height < bestHeight) {
      best = i
      bestHeight = height
    }
  }
  const lowest = best < 0 ? null : evaluate(low + ((high - low) * best) / steps)
  if (!lowest) return { place: 'high', point: null, evaluations }
  if (best === 0 && lowest.slope >= 0) return { place: 'low', point: lowest, evaluations }
  if (best === steps && lowest.slope <= 0) return { place: 'high', point: lowest, evaluations }

  const falling = lowest.slope < 0
  let left = falling ? lowest.phi : lowest.phi - (high - low) / steps
  let right = falling ? lowest.phi + (high - low) / steps : lowest.phi
  let point = lowest
  for (let i = 0; i < STEP_LIMIT; i++) {
    let next = point.phi - point.slope / point.curvature
    if (!(point.curvature > 0 && next > left && next < right)) next = (left + right) / 2
    const moved = Math.abs(next - point.phi)
    const candidate = evaluate(next)
    if (!candidate) {
      right = next
      continue
    }
    point = candidate
    if (point.slope > 0) right = point.phi
    else left = point.phi
    if (moved < CONVERGED) break
  }
  return { place: 'inside', point, evaluations }
}

/** A factor e in 1 + n lambda. On 9,600 small seeded tables, 224 of them with two minima, a scan 20 times finer found no lower point; at a step of 2 it found one. */
const SCAN_STEP = 1

/** Newton's last step squared is the error left, so 1e-9 leaves rounding only. */
const CONVERGED = 1e-9

/** Bisection alone would need 30 steps for CONVERGED from SCAN_STEP. */
const STEP_LIMIT = 60
