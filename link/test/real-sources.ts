// This machine's clock and randomness, for tests.
export function realSources(now: () => number = () => Date.now()) {
  return { now, fillRandom: (bytes: Uint8Array): void => void crypto.getRandomValues(bytes) }
}
