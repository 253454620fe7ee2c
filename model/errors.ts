// The one error that people may read: a sentence that names the place and the mend, with a code that stays the same when wording changes.

export interface SpokenErrorParts {
  readonly code: string
  readonly message: string
  /** Where it happened: file, line, column, record, setting. */
  readonly place?: string
  /** What the person can do about it. */
  readonly mend?: string
}

export class SpokenError extends Error {
  readonly code: string
  readonly place: string | undefined
  readonly mend: string | undefined

  constructor(parts: SpokenErrorParts) {
    super(parts.message)
    this.name = 'SpokenError'
    this.code = parts.code
    this.place = parts.place
    this.mend = parts.mend
  }

  /** The whole sentence: place, what is wrong, mend. */
  get sentence(): string {
    const place = this.place === undefined ? '' : `${this.place}: `
    const mend = this.mend === undefined ? '' : ` ${this.mend}`
    return `${place}${this.message}${mend}`
  }
}
