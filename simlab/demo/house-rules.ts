// What the invented house knows of its settings and what it lets none of them pass. Figures are the house's own, for parts that nobody makes.
import type { RecordOf } from '@guardband/model'

type Written<Kind extends 'setting kind' | 'ceiling'> = Omit<RecordOf<Kind>, 'kind' | 'id'>

export const KINDS: readonly Written<'setting kind'>[] = [
  { name: 'package power limit', shape: 'scalar', unit: 'W', domain: 'package power', level: 'package', step: 5, usualLow: 45, usualHigh: 120 },
  { name: 'core voltage', shape: 'scalar', unit: 'V', domain: 'core voltage', level: 'package', step: 0.005, usualLow: 0.9, usualHigh: 1.3 },
  { name: 'core voltage offset', shape: 'scalar', unit: 'mV', domain: 'core voltage', level: 'package', step: 5, usualLow: -80, usualHigh: 20 },
  { name: 'core ratio', shape: 'scalar', unit: '', domain: 'core ratio', level: 'core', step: 1, usualLow: 40, usualHigh: 56 },
  { name: 'ratio by active cores', shape: 'table', unit: '', domain: 'core ratio', level: 'package', step: 1, usualLow: 40, usualHigh: 56 },
  { name: 'memory data rate', shape: 'scalar', unit: 'MT/s', domain: 'memory rate', level: 'machine', step: 200, usualLow: 4800, usualHigh: 7200 },
  { name: 'memory voltage', shape: 'scalar', unit: 'V', domain: 'memory voltage', level: 'machine', step: 0.01, usualLow: 1.1, usualHigh: 1.35 },
  { name: 'memory controller voltage', shape: 'scalar', unit: 'V', domain: 'memory voltage', level: 'package', step: 0.01, usualLow: 1, usualHigh: 1.2 },
  { name: 'fan policy', shape: 'mode', unit: '', domain: 'fans', level: 'machine', modes: ['fixed 900 rpm', 'curve'] },
  { name: 'fan curve', shape: 'curve', unit: 'rpm', domain: 'fans', level: 'machine', step: 50, usualLow: 500, usualHigh: 1500 },
]

export const CEILINGS: readonly Written<'ceiling'>[] = [
  { name: 'package power', settings: ['package power limit'], unit: 'W', highest: 125, slot: 'processor' },
  { name: 'core voltage', settings: ['core voltage'], unit: 'V', highest: 1.35, slot: 'processor' },
  { name: 'memory voltage', settings: ['memory voltage'], unit: 'V', highest: 1.4, slot: 'memory' },
]
