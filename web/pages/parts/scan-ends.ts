// Tells a scanner's closing Tab from a person's: a scanner sends the signs before it faster than anybody types.

/** How long ago the last signs were, newest first, in milliseconds. */
export function isScannersTab(gaps: readonly number[]): boolean {
  return gaps.length >= SIGNS && gaps.slice(0, SIGNS).every((gap) => gap < FASTEST_HAND_MS)
}

/** Keeps the gaps between keys; given the time of each. */
export function createKeyPace(): { readonly key: (at: number) => void; readonly gaps: () => readonly number[]; readonly rest: () => void } {
  let times: readonly number[] = []
  return {
    key: (at) => {
      times = [at, ...times].slice(0, SIGNS + 1)
    },
    gaps: () => times.slice(1).map((time, place) => (times[place] ?? time) - time),
    rest: () => {
      times = []
    },
  }
}

/** Twenty signs a second for four in a row: beyond what hands do, below what the slowest scanners send. */
const FASTEST_HAND_MS = 50
const SIGNS = 4
