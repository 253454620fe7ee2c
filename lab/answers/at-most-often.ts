// Lets calls through at a bounded rate, so that a computation of many short steps doesn't drown its listeners.

export interface Pace {
  readonly everyMilliseconds: number
  /** A clock that never steps back. */
  readonly now: () => number
}

/** The first call comes through at once; of those too soon after one, none does. */
export function atMostOften(call: (value: number) => void, { everyMilliseconds, now }: Pace): (value: number) => void {
  let next = Number.NEGATIVE_INFINITY
  return (value) => {
    const at = now()
    if (at < next) return
    next = at + everyMilliseconds
    call(value)
  }
}
