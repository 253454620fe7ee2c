// The form of a Gain question: what its address holds, what it says when something is missing, and the question it makes.
import type { SmallestGainOffer } from '@guardband/model/api'
import type { GainAbout, Side } from '@guardband/model/records/lab'
import { slotSchema, type Slot } from '@guardband/model/records/parts'
import { defaultSmallestGain } from '@guardband/questions/gain/ask'

/** Every field as it stands in the address; amounts stay the text that was typed. */
export interface AskFields {
  readonly aPart?: string | undefined
  readonly aTune?: string | undefined
  readonly bPart?: string | undefined
  readonly bTune?: string | undefined
  readonly suite?: string | undefined
  readonly slot?: Slot | undefined
  readonly smallest?: string | undefined
  readonly extra?: string | undefined
  readonly worth?: string | undefined
  readonly partPrice?: string | undefined
  readonly machinePrice?: string | undefined
  readonly title?: string | undefined
}

export type AskKey = keyof AskFields

const KEYS: readonly Exclude<AskKey, 'slot'>[] = ['aPart', 'aTune', 'bPart', 'bTune', 'suite', 'smallest', 'extra', 'worth', 'partPrice', 'machinePrice', 'title']

export function askSearch(raw: Record<string, unknown>): AskFields {
  const fields: Partial<Record<Exclude<AskKey, 'slot'>, string>> = {}
  for (const key of KEYS) {
    const value = raw[key]
    if (typeof value === 'number' || (typeof value === 'string' && value !== '')) fields[key] = String(value)
  }
  const slot = slotSchema.safeParse(raw['slot'])
  return { ...fields, ...(slot.success ? { slot: slot.data } : {}) }
}

/** What the question itself starts from, in percent. */
export function usualSmallest(fields: AskFields): string {
  return String(defaultSmallestGain({ a: sideOf(fields.aPart, fields.aTune), b: sideOf(fields.bPart, fields.bTune) }))
}

export interface AskProblem {
  readonly key: AskKey
  readonly sentence: string
}

/** What must be mended before the question can be asked, in the order of the form. */
export function askProblems(fields: AskFields): readonly AskProblem[] {
  const problems: AskProblem[] = []
  if (fields.bPart === undefined && fields.bTune === undefined) problems.push({ key: 'bPart', sentence: 'Choose a part, a tune, or both for B.' })
  if (fields.aPart === undefined && fields.aTune === undefined) problems.push({ key: 'aPart', sentence: 'Choose a part, a tune, or both for A.' })
  if (problems.length === 0 && fields.aPart === fields.bPart && fields.aTune === fields.bTune) problems.push({ key: 'aPart', sentence: 'A and B are the same; change one of them.' })
  if (fields.suite === undefined) problems.push({ key: 'suite', sentence: 'Choose the workloads to compare over.' })
  const smallest = amountOf(fields.smallest ?? usualSmallest(fields))
  if (smallest === undefined || smallest <= 0 || smallest > 100) problems.push({ key: 'smallest', sentence: 'The smallest gain must be a percentage above 0 and up to 100, such as 1 or 0.5.' })
  for (const { key, name } of AMOUNTS) {
    if (fields[key] === undefined) continue
    const amount = amountOf(fields[key])
    if (amount === undefined) problems.push({ key, sentence: `${name} must be an amount such as 74 or 74.50; got ${fields[key] ?? ''}.` })
    else if (key !== 'extra' && amount <= 0) problems.push({ key, sentence: `${name} must be above 0.` })
  }
  if (fields.extra === undefined && AMOUNTS.some(({ key }) => key !== 'extra' && fields[key] !== undefined)) problems.push({ key: 'extra', sentence: 'Say what B costs more than A; 0 if nothing.' })
  return problems
}

/**
 * The question; call it only when nothing needs mending. A smallest gain that the person typed is fixed `now`; where the field was left alone, what a plan
 * fixed before its runs keeps its own time.
 */
export function gainAbout(fields: AskFields, now: Date, offer?: SmallestGainOffer): GainAbout {
  const extra = amountOf(fields.extra)
  const worth = amountOf(fields.worth)
  const partPrice = amountOf(fields.partPrice)
  const machinePrice = amountOf(fields.machinePrice)
  return {
    a: sideOf(fields.aPart, fields.aTune),
    b: sideOf(fields.bPart, fields.bTune),
    suiteId: fields.suite ?? '',
    slot: fields.slot ?? 'processor',
    smallestGain: smallestGain(fields, now, offer),
    ...(extra === undefined
      ? {}
      : {
          money: {
            extraPrice: extra,
            ...(worth === undefined ? {} : { worthOfOnePercent: worth }),
            ...(partPrice === undefined ? {} : { partPrice }),
            ...(machinePrice === undefined ? {} : { machinePrice }),
          },
        }),
  }
}

function smallestGain(fields: AskFields, now: Date, offer: SmallestGainOffer | undefined): GainAbout['smallestGain'] {
  const typed = amountOf(fields.smallest)
  if (typed !== undefined) return { percent: typed, fixedAt: now.toISOString() }
  return offer?.from === 'plan' ? { percent: offer.percent, fixedAt: offer.fixedAt } : { percent: Number(usualSmallest(fields)), fixedAt: now.toISOString() }
}

const AMOUNTS = [
  { key: 'extra', name: 'What B costs more' },
  { key: 'worth', name: 'What one percent is worth' },
  { key: 'partPrice', name: "A's price" },
  { key: 'machinePrice', name: 'The price of a whole machine' },
] as const

function sideOf(partId: string | undefined, tuneId: string | undefined): Side {
  return { ...(partId === undefined ? {} : { partId }), ...(tuneId === undefined ? {} : { tuneId }) }
}

/** A typed amount; a decimal comma is taken for what it is. Undefined when it is none. */
function amountOf(text: string | undefined): number | undefined {
  const plain = (text ?? '').trim().replace(',', '.').replace('\u2212', '-')
  return /^-?\d+(\.\d+)?$/.test(plain) ? Number(plain) : undefined
}
