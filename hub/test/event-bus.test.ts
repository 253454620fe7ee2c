// How often listeners hear of rigs at work.
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest'
import type { HubEvent } from '@guardband/model'
import type { Lab } from '@guardband/lab'
import { createEventBus, RIGS_MS, type EventBus } from '../event-bus.ts'

let bus: EventBus
let heard: HubEvent[]
beforeEach(() => {
  vi.useFakeTimers()
  heard = []
  // The bus asks a lab for these two alone.
  bus = createEventBus({ head: () => 1, onAnswer: () => () => undefined } as unknown as Lab, () => undefined)
  bus.subscribe((event) => heard.push(event))
})
afterEach(() => {
  bus.close()
  vi.useRealTimers()
})

describe('what rigs say', () => {
  it('is told at once, and of many words in a row the last is told too, a few times a second', () => {
    bus.rigs()
    expect(heard).toEqual([{ type: 'rigs' }])
    for (let times = 0; times < 100; times++) bus.rigs()
    expect(heard).toHaveLength(1)
    vi.advanceTimersByTime(RIGS_MS)
    expect(heard).toHaveLength(2)
    vi.advanceTimersByTime(10 * RIGS_MS)
    expect(heard).toHaveLength(2)
    bus.rigs()
    expect(heard).toHaveLength(3)
  })
})
