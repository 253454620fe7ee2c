// Like with like: what differs between the sides besides what was asked about.
import type { Caution, GainSnapshot, GainStart } from '@guardband/model'
import { fixed } from '@guardband/model'

interface Condition {
  readonly name: string
  readonly read: (start: GainStart) => string | undefined
  /** Differing wholly: stops, or (what a different board brings by necessity) only warns. */
  readonly stops: boolean
}

const CONDITIONS: readonly Condition[] = [
  { name: 'firmware', read: (start) => start.conditions.firmware, stops: true },
  { name: 'system image', read: (start) => start.conditions.systemImage, stops: true },
  // A rig records it apart from the image's name, of which it is a part.
  { name: 'kernel', read: (start) => start.conditions.kernel, stops: true },
  { name: 'drivers', read: (start) => start.conditions.drivers, stops: true },
  { name: 'cooling', read: (start) => start.conditions.cooling, stops: true },
  { name: 'microcode', read: (start) => start.conditions.microcode, stops: false },
  { name: 'power plan', read: (start) => start.conditions.powerPlan, stops: true },
  { name: 'fan policy', read: (start) => start.conditions.fans, stops: false },
  { name: 'graphics clocks', read: (start) => start.conditions.graphicsClocks, stops: false },
]

/** Mean ambient further apart than this moves scores by itself: default smallest temperature that matters is 2 degC, scatter of a room thermometer about 1 degC. */
const AMBIENT_APART = 3

/** Cautions about conditions and partners, those that stop first. Only starts with scores are passed in. */
export function fairness(snapshot: GainSnapshot, used: readonly GainStart[]): readonly Caution[] {
  const sides = [used.filter((start) => start.side === 0), used.filter((start) => start.side === 1)]
  if (sides.some((side) => side.length === 0)) return []
  const boardDiffers = compare(sides, (start) => start.partners.board).kind === 'apart'
  const cautions: Caution[] = []
  for (const condition of CONDITIONS) {
    const found = compare(sides, condition.read)
    if (found.kind === 'apart') {
      const forced = boardDiffers && (condition.name === 'firmware' || condition.name === 'microcode')
      cautions.push(differs(snapshot, condition.name, found, condition.stops && !forced ? 'stops' : 'warns'))
    } else if (found.kind === 'mixed') cautions.push(mixed(snapshot, condition.name, found))
  }
  for (const slot of [...new Set(used.flatMap((start) => Object.keys(start.partners)))].sort()) {
    const found = compare(sides, (start) => start.partners[slot])
    if (found.kind === 'apart') cautions.push(differs(snapshot, slot, found, slot === 'cooler' ? 'stops' : 'warns'))
    else if (found.kind === 'mixed') cautions.push(mixed(snapshot, slot, found))
  }
  const rigs = compare(sides, (start) => start.rig)
  if (rigs.kind === 'apart') cautions.push(differs(snapshot, 'rig', rigs, 'warns'))
  const ambient = ambientApart(sides)
  if (ambient !== null) {
    const [a, b] = ambient
    cautions.push({
      code: 'ambient-differs', severity: 'stops', title: 'Ambient differs', records: [],
      text: `${snapshot.sides[0].label} ran at ${fixed(a, 1)} °C and ${snapshot.sides[1].label} at ${fixed(b, 1)} °C on average.`,
    })
  }
  // One side recorded shows as little as none.
  const unrecorded = CONDITIONS.filter(({ name }) => name === 'firmware' || name === 'system image' || name === 'cooling').filter(({ read }) => sides.some((side) => side.every((start) => read(start) === undefined)))
  if (unrecorded.length > 0) {
    cautions.push({
      code: 'conditions-unknown', severity: 'notes', title: 'Conditions not recorded', records: [],
      text: `Not recorded on both sides: ${list(unrecorded.map(({ name }) => name))}. Nothing shows that the sides were alike in this.`,
    })
  }
  return cautions.sort((x, y) => SEVERITIES.indexOf(x.severity) - SEVERITIES.indexOf(y.severity))
}

export const SEVERITIES: readonly Caution['severity'][] = ['stops', 'warns', 'notes']

/** Past this, a change of that condition puts more than four tenths of its own effect into the gain. */
const UNEVEN = 0.4

interface Found {
  readonly kind: 'apart' | 'mixed' | 'alike' | 'unknown'
  readonly values: readonly (readonly string[])[]
}

/** apart: no value in common; mixed: one side lacks a value that the other has, or had it in a share of starts that differs by more than `UNEVEN`. */
function compare(sides: readonly (readonly GainStart[])[], read: (start: GainStart) => string | undefined): Found {
  const values = sides.map((side) => [...new Set(side.map(read).filter((value) => value !== undefined))].sort())
  if (values.some((list) => list.length === 0)) return { kind: 'unknown', values }
  const [a, b] = values
  if (!a.some((value) => b.includes(value))) return { kind: 'apart', values }
  const [shareA, shareB] = sides.map((side) => {
    const known = side.map(read).filter((value) => value !== undefined)
    return (value: string) => known.filter((other) => other === value).length / known.length
  })
  const uneven = [...new Set([...a, ...b])].some((value) => Math.abs(shareA(value) - shareB(value)) > UNEVEN)
  return { kind: uneven || a.length !== b.length || !a.every((value) => b.includes(value)) ? 'mixed' : 'alike', values }
}

function differs(snapshot: GainSnapshot, name: string, found: Found, severity: Caution['severity']): Caution {
  const [a, b] = found.values
  return {
    code: `${name.replaceAll(' ', '-')}-differs`, severity, title: `${capital(name)} ${differ(name)}`, records: [],
    text: `${snapshot.sides[0].label} ran with ${list(a)}, ${snapshot.sides[1].label} with ${list(b)}: the gain belongs to this change as well.`,
  }
}

function mixed(snapshot: GainSnapshot, name: string, found: Found): Caution {
  const [a, b] = found.values
  return {
    code: `${name.replaceAll(' ', '-')}-mixed`, severity: 'warns', title: `${capital(name)} ${differ(name)} in part`, records: [],
    text: `${snapshot.sides[0].label} ran with ${list(a)}, ${snapshot.sides[1].label} with ${list(b)}. Compare only what ran alike, or give each side the same share of each.`,
  }
}

function capital(name: string): string {
  return name.charAt(0).toUpperCase() + name.slice(1)
}

function differ(name: string): string {
  return name === 'drivers' || name === 'graphics clocks' ? 'differ' : 'differs'
}

function ambientApart(sides: readonly (readonly GainStart[])[]): readonly [number, number] | null {
  const means = sides.map((side) => {
    const known = side.map((start) => start.conditions.ambient).filter((value) => value !== undefined)
    return known.length === 0 ? Number.NaN : known.reduce((sum, value) => sum + value, 0) / known.length
  })
  const [a, b] = means
  return Math.abs(a - b) > AMBIENT_APART ? [a, b] : null
}

/** "a", "a and b", "a, b and c"; at most five, then "and 3 more". Items that hold a comma are set apart by semicolons. */
export function list(items: readonly string[]): string {
  const most = 5
  const shownItems = items.length > most ? [...items.slice(0, most), `${items.length - most} more`] : items
  if (shownItems.length <= 1) return shownItems.join('')
  const comma = shownItems.some((item) => item.includes(','))
  return `${shownItems.slice(0, -1).join(comma ? '; ' : ', ')}${comma ? '; and' : ' and'} ${shownItems.at(-1)}`
}
