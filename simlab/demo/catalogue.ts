// The invented lab of the demo: its parts, samples, tunes and workloads, and the constants of the machines that they make.
import type { Measure } from '@guardband/model'

export const DEMO_LAB = { name: 'Hollin & Pike', currency: 'EUR', simulated: true } as const

/** Chosen so that this one week shows most verdicts and mishaps. Whether intervals hold their promise is not for one week to show: see the coverage bench. */
export const DEMO_SEED = 2025

export interface DemoPart {
  readonly key: string
  readonly name: string
  readonly slot: 'processor' | 'memory' | 'board' | 'cooler' | 'supply'
  readonly price: number
  /** Natural log of its core speed over that of the Quillon 14. */
  readonly core: number
  readonly samples: readonly DemoSample[]
}

export interface DemoSample {
  readonly key: string
  readonly batch: string
  readonly origin: 'retail' | 'press'
  readonly picked: 'at random' | 'chosen'
}

function retail(prefix: string, count: number, batch: string): readonly DemoSample[] {
  return Array.from({ length: count }, (_, index) => ({ key: `${prefix}-${String(index + 1).padStart(2, '0')}`, batch, origin: 'retail', picked: 'at random' }))
}

export const PARTS: readonly DemoPart[] = [
  { key: 'Q14', name: 'Quillon 14', slot: 'processor', price: 329, core: 0, samples: retail('Q14', 7, 'week 26-31') },
  {
    key: 'Q14R', name: 'Quillon 14R', slot: 'processor', price: 403, core: 0.024,
    samples: retail('R14', 6, 'week 26-38').map((sample, index) => (index < 3 ? sample : { ...sample, batch: 'week 26-35', origin: 'press', picked: 'chosen' })),
  },
  { key: 'M56', name: 'Marram 5600', slot: 'memory', price: 118, core: 0, samples: retail('M56', 3, 'week 26-22') },
  { key: 'M62', name: 'Marram 6200', slot: 'memory', price: 141, core: 0, samples: retail('M62', 4, 'week 26-29') },
  { key: 'M68', name: 'Marram 6800', slot: 'memory', price: 180, core: 0, samples: retail('M68', 3, 'week 26-33') },
  { key: 'C2', name: 'Cairn M2', slot: 'board', price: 214, core: 0, samples: retail('C2', 2, 'week 26-30') },
  { key: 'B120', name: 'Burrow 120', slot: 'cooler', price: 58, core: 0, samples: retail('B120', 2, 'week 26-18') },
  { key: 'S450', name: 'Sluice 450', slot: 'supply', price: 96, core: 0, samples: retail('S450', 2, 'week 26-20') },
]

export interface DemoTune {
  readonly key: string
  readonly name: string
  readonly watts: number
  /** Memory transfers, millions a second. */
  readonly dataRate: number
  /** Millivolts on the cores. */
  readonly offset: number
}

export const TUNES: readonly DemoTune[] = [
  ...[65, 80, 95, 120].map((watts) => ({ key: `W${watts}`, name: `${watts} W`, watts, dataRate: 6200, offset: 0 })),
  ...[5600, 6200, 6800].map((dataRate) => ({ key: `M${dataRate}`, name: `95 W, memory ${dataRate}`, watts: 95, dataRate, offset: 0 })),
  { key: 'V40', name: '95 W, cores 40 mV down', watts: 95, dataRate: 6200, offset: -40 },
]

/** What the board falls back to when it can't train the memory. */
export const FALLBACK_RATE = 4800

export interface DemoWorkload {
  readonly key: string
  readonly name: string
  readonly group: 'many cores' | 'few cores'
  readonly threads: number
  readonly measure: Measure
  readonly weight: number
  /** Typical value on a Quillon 14 at 95 W and 6200. */
  readonly level: number
  /** d ln score / d ln core speed, and the same for the memory's data rate. */
  readonly coreElasticity: number
  readonly memoryElasticity: number
  /** Watts that it would draw with no limit. */
  readonly demand: number
  /** Length of a run where the measure itself is no time. */
  readonly seconds: number
}

const time = (resolution: number): Measure => ({ name: 'time', unit: 's', direction: 'lower is better', resolution })
const score = (unit: string, resolution: number): Measure => ({ name: 'score', unit, direction: 'higher is better', resolution })

export const WORKLOADS: readonly DemoWorkload[] = [
  { key: 'tile', name: 'tile render, all cores', group: 'many cores', threads: 28, measure: score('points', 1), weight: 2, level: 2150, coreElasticity: 0.95, memoryElasticity: 0.02, demand: 92, seconds: 62 },
  { key: 'photo', name: 'photo stack', group: 'many cores', threads: 28, measure: time(0.1), weight: 2, level: 63.5, coreElasticity: 0.8, memoryElasticity: 0.12, demand: 84, seconds: 64 },
  { key: 'build', name: 'code build', group: 'many cores', threads: 28, measure: time(0.1), weight: 1, level: 98, coreElasticity: 0.75, memoryElasticity: 0.15, demand: 88, seconds: 98 },
  { key: 'pack', name: 'archive pack', group: 'many cores', threads: 28, measure: score('MB/s', 0.1), weight: 1, level: 742, coreElasticity: 0.55, memoryElasticity: 0.3, demand: 80, seconds: 48 },
  { key: 'audio', name: 'audio bounce, one core', group: 'few cores', threads: 1, measure: time(0.1), weight: 2, level: 41.2, coreElasticity: 0.98, memoryElasticity: 0.01, demand: 38, seconds: 41 },
  { key: 'map', name: 'map scene, low resolution', group: 'few cores', threads: 6, measure: score('fps', 0.1), weight: 1, level: 163, coreElasticity: 0.7, memoryElasticity: 0.2, demand: 55, seconds: 60 },
]
