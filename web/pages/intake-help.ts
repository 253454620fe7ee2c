// The columns of a file of runs in the page's words; the intake itself decides, and names what it misses.

export interface ColumnHelp {
  readonly name: string
  readonly needed: 'yes' | 'no'
  readonly what: string
}

export const INTAKE_COLUMNS: readonly ColumnHelp[] = [
  { name: 'sample', needed: 'yes', what: 'label of the physical unit' },
  { name: 'part, tune', needed: 'yes', what: 'which product, which settings; one of the two will do' },
  { name: 'start', needed: 'yes', what: 'a name for each power-on; runs of one start share it' },
  { name: 'workload', needed: 'yes', what: 'what ran' },
  { name: 'value, outcome', needed: 'yes', what: 'the score, or how the run failed ("machine reset"); a failed run has no value' },
  { name: 'measure, unit, direction', needed: 'no', what: 'else: score, points, higher is better' },
  { name: 'group', needed: 'no', what: 'of the workload: "many cores"' },
  { name: 'picked, origin, batch', needed: 'no', what: 'of the sample: at random or chosen; retail, press ...' },
  { name: 'rig, how, time, order', needed: 'no', what: 'where; cold, warm or live; when, or at least in which order' },
  { name: 'firmware, system, ambient', needed: 'no', what: 'what must be alike for a fair comparison' },
  { name: 'seconds, phase, place', needed: 'no', what: 'how long a run took; when and where it failed' },
  { name: 'slot, known', needed: 'no', what: 'else: processor; unverified' },
]

export const INTAKE_EXAMPLE = `sample,tune,start,workload,unit,value
Q14-07,as shipped,s1,code build,points,1834
Q14-07,as shipped,s1,code build,points,1829
Q14-07,eco 95 W,s2,code build,points,1811`
