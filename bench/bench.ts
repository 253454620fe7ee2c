/** What a bench is: something measured against a reference in the same run, and a bar that it must reach. */

export type BenchResult = {
  /** The measured figure. */
  readonly value: number
  /** What it is held against, measured in the same run or taken from reference/. */
  readonly reference: number
  /** The bar in words, for instance "at most 1.25 times the reference". */
  readonly bar: string
  readonly pass: boolean
  /** Where `value / reference` is not the ratio that the bar speaks of. */
  readonly ratio?: number
  /** Further figures, such as a row for each scenario; they stand in the last line too. */
  readonly detail?: Readonly<Record<string, unknown>>
}

/** Exported as `bench` by every bench/NAME.bench.ts. */
export type Bench = {
  /** Equals NAME. */
  readonly name: string
  /** One line that says what is measured. */
  readonly what: string
  /** Arguments are those after the name. Progress goes to `print`, never to the last line. */
  readonly run: (args: readonly string[], print: (line: string) => void) => Promise<BenchResult>
}
