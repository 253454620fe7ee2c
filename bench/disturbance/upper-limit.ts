// The upper end of the 95 % interval of a paired difference, with no assumption on its spread but symmetry (Hodges and Lehmann 1963; Lehmann 1975, section 4.2).

export interface PairedEstimate {
  /** Median of all means of two differences. */
  readonly middle: number
  readonly low: number
  readonly high: number
}

/** From the signed rank statistic, by its normal limit: for twenty pairs and more. */
export function pairedEstimate(differences: readonly number[]): PairedEstimate {
  const n = differences.length
  const means = differences.flatMap((a, i) => differences.slice(i).map((b) => (a + b) / 2)).toSorted((a, b) => a - b)
  const all = means.length
  const rank = Math.max(0, Math.floor(all / 2 - Z * Math.sqrt((n * (n + 1) * (2 * n + 1)) / 24)))
  return { middle: (means[(all - 1) >> 1] + means[all >> 1]) / 2, low: means[rank], high: means[all - 1 - rank] }
}

/** 97.5 % point of the normal distribution. */
const Z = 1.959964
