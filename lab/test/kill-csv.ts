// The CSVs that the killed process takes in: several starts and runs each, so that a half one would show.
export const RUNS_A_CSV = 24

export function csvFile(name: string): string {
  const lines = Array.from({ length: RUNS_A_CSV }, (_, index) => `Quillon 14,${index % 3},65 W,${name} ${Math.floor(index / 6)},tile render,${100 + index}`)
  return ['part,sample,tune,start,workload,value', ...lines].join('\n')
}
