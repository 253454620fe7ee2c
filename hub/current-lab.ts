// The workspace that the hub serves at this moment. Requests hold on to the one they began with; it is closed when the last of them is done.
import type { Lab } from '@guardband/lab'

export interface CurrentLab {
  lab(): Lab
  /** Runs the work with the lab of this moment, which stays open until it ends. */
  use<Out>(work: (lab: Lab) => Out | Promise<Out>): Promise<Out>
  /** Serves `next` from now on. The one before is closed once nothing uses it. */
  replace(next: Lab): void
  /** Closes the current lab once nothing uses it, and waits for those replaced before. */
  close(): Promise<void>
}

export function createCurrentLab(first: Lab): CurrentLab {
  let seat = seatOf(first)
  const leaving: Promise<void>[] = []
  return {
    lab: () => seat.lab,
    async use(work) {
      const mine = seat
      mine.enter()
      try {
        return await work(mine.lab)
      } finally {
        mine.leave()
      }
    },
    replace(next) {
      leaving.push(seat.retire())
      seat = seatOf(next)
    },
    async close() {
      await Promise.all([...leaving, seat.retire()])
    },
  }
}

function seatOf(lab: Lab) {
  let users = 0
  let whenEmpty: (() => void) | undefined
  let retired: Promise<void> | undefined
  return {
    lab,
    enter: () => {
      users += 1
    },
    leave: () => {
      users -= 1
      if (users === 0) whenEmpty?.()
    },
    retire: (): Promise<void> => {
      retired ??= (users === 0 ? Promise.resolve() : new Promise<void>((resolve) => (whenEmpty = resolve))).then(() => lab.close())
      return retired
    },
  }
}
