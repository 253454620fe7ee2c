// The one error the engine throws: a caller passed something the contract rules out. Difficult data never throw; they come back as a status.

/** Thrown for a caller's mistake. `code` is stable; the message reads "<name> must be <rule>; got <value>". */
export class InvalidArgument extends RangeError {
  readonly code = 'ENGINE_INVALID_ARGUMENT'

  constructor(name: string, rule: string, value: unknown) {
    super(`${name} must be ${rule}; got ${String(value)}`)
    this.name = 'InvalidArgument'
  }
}
