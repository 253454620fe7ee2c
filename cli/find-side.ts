// Finds what a person means by one side of a comparison: a tune, a part, or a part at a tune.
import { SpokenError, type Part, type Side, type Tune } from '@guardband/model'

export interface SideNames {
  readonly parts: readonly Pick<Part, 'id' | 'name'>[]
  readonly tunes: readonly Pick<Tune, 'id' | 'name'>[]
}

export function findSide(named: string, { parts, tunes }: SideNames): Side {
  const asPart = parts.filter((part) => sameName(part.name, named))
  const asTune = tunes.filter((tune) => sameName(tune.name, named))
  const asBoth = splitsOf(named).flatMap(({ left, right }) =>
    parts.filter((part) => sameName(part.name, left)).flatMap((part) => tunes.filter((tune) => sameName(tune.name, right)).map((tune) => ({ partId: part.id, tuneId: tune.id }))),
  )
  const sides: readonly Side[] = [...asPart.map((part) => ({ partId: part.id })), ...asTune.map((tune) => ({ tuneId: tune.id })), ...asBoth]
  const [side, second] = sides
  if (side !== undefined && second === undefined) return side
  if (side !== undefined) throw new SpokenError({ code: 'side-ambiguous', message: `"${named}" names ${sides.length} things here.`, mend: 'Rename one, or ask on the page.' })
  throw new SpokenError({ code: 'side-unknown', message: `there is no tune or part "${named}" in this workspace.`, mend: `It has ${listOf('tunes', tunes)} and ${listOf('parts', parts)}; "PART at TUNE" names both.` })
}

function sameName(a: string, b: string): boolean {
  return a.trim().toLowerCase() === b.trim().toLowerCase()
}

/** Every way to read "x at y", as names may hold the word themselves. */
function splitsOf(named: string): readonly { readonly left: string; readonly right: string }[] {
  const words = named.split(' at ')
  return words.slice(1).map((_, index) => ({ left: words.slice(0, index + 1).join(' at '), right: words.slice(index + 1).join(' at ') }))
}

function listOf(what: string, items: readonly { readonly name: string }[]): string {
  if (items.length === 0) return `no ${what}`
  const shown = items.slice(0, 12).map(({ name }) => `"${name}"`).join(', ')
  return `${what} ${shown}${items.length > 12 ? ` and ${items.length - 12} more` : ''}`
}
