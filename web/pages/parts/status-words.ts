// Words for where a sample came from, how it was picked and what it may be used for.
import type { Sample } from '@guardband/model/records/parts'
import type { Choice } from '../../pieces/field.tsx'

export const PICKED_CHOICES: readonly Choice[] = [
  { value: 'unknown', text: 'nobody knows' },
  { value: 'at random', text: 'at random' },
  { value: 'chosen', text: 'chosen by somebody' },
]

export const ORIGIN_CHOICES: readonly Choice[] = [
  { value: 'unknown', text: 'nobody knows' },
  { value: 'retail', text: 'retail' },
  { value: 'press', text: 'press' },
  { value: 'pre-production', text: 'pre-production' },
  { value: 'returned', text: 'returned' },
]

export const STATUS_CHOICES: readonly Choice[] = [
  { value: 'bench', text: 'on the bench' },
  { value: 'for sale', text: 'for sale' },
  { value: 'quarantined', text: 'quarantined' },
  { value: 'wet', text: 'wet' },
]

export const SLOT_CHOICES: readonly Choice[] = ['processor', 'memory', 'board', 'cooler', 'graphics', 'storage', 'supply', 'other'].map((slot) => ({ value: slot, text: slot }))

/** What the way of picking lets answers say; each a whole sentence. */
export const PICKED_MEANS: Readonly<Record<Sample['picked'], string>> = {
  'at random': 'It was picked at random, so with others picked so it may speak for the next hundred.',
  chosen: 'Somebody chose it, so it speaks for itself: what made it worth choosing may be what it shows. Answers about the next hundred say so.',
  unknown: 'Nobody knows how it was picked, so answers about the next hundred that rest on it say so. Enter it if you remember.',
}
