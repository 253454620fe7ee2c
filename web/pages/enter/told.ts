// What stood against an entry, as a sentence that stands alone.
import { SpokenError } from '@guardband/model/errors'

export function toldOf(error: unknown): string {
  const sentence = error instanceof SpokenError ? error.sentence : `It could not be kept in this browser: ${error instanceof Error ? error.message : String(error)}`
  return sentence.charAt(0).toUpperCase() + sentence.slice(1)
}
