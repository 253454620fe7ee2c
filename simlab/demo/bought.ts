// How a sample came into the house: the serial on it, and what was paid for it.
import type { RecordOf } from '@guardband/model'
import { namedStream } from '../generator.ts'

export interface Bought {
  readonly key: string
  readonly batch: string
  readonly origin: RecordOf<'sample'>['origin']
  /** Of the part, on the day. */
  readonly price: number
}

/** Shops differ by a few percent; what the press desk lends, or a customer sends back, costs nothing. */
export function boughtAs(seed: number, { key, batch, origin, price }: Bought): Pick<RecordOf<'sample'>, 'serial' | 'paid'> {
  const stream = namedStream(seed, `purchase of ${key}`)
  const serial = `${key.replace(/-\d+$/, '')}${batch.replace(/\D/g, '')}-${String(stream.pick(SERIALS)).padStart(6, '0')}`
  const amount = Math.round(price * (1 + SHOPS * (2 * stream.uniform() - 1)))
  return origin === 'retail' ? { serial, paid: { amount, at: BOUGHT_AT } } : { serial }
}

const SERIALS = 1_000_000
const SHOPS = 0.03
const BOUGHT_AT = '2026-09-28T12:00:00Z'
