/** The house plan as data: which package may import which, types included. */

export type PackageRule = {
  /** Packages it may import, by workspace name. */
  readonly imports: readonly string[]
  /** Where only some files of a package may be imported: what may follow `@guardband/NAME/`, and the same in words. */
  readonly onlyFiles?: Readonly<Record<string, { readonly pattern: RegExp; readonly words: string }>>
}

export const scope = '@guardband/'

const everyLibrary = ['model', 'engine', 'questions', 'simlab', 'report', 'link', 'rig', 'lab', 'hub'] as const

export const rules: Readonly<Record<string, PackageRule>> = {
  model: { imports: [] },
  engine: { imports: [] },
  simlab: { imports: ['model'] },
  questions: { imports: ['model', 'engine'] },
  report: { imports: ['model', 'questions'] },
  link: { imports: ['model'] },
  rig: { imports: ['model', 'engine', 'questions', 'link'] },
  lab: { imports: ['model', 'engine', 'questions', 'report'] },
  hub: { imports: ['model', 'lab', 'questions', 'report', 'link'] },
  web: {
    imports: ['model', 'questions'],
    onlyFiles: {
      questions: {
        // Files beside the kinds' folders are shared by ask, tell and picture; the reach rule below keeps computation out.
        pattern: /^(?:[^/]+\/(?:ask|tell|picture|schema)|shared\/[^/]+|(?!index$)[^/]+)$/,
        words: 'ask, tell, picture and schema of a kind, and the files they share',
      },
    },
  },
  cli: { imports: everyLibrary },
  bench: { imports: everyLibrary },
}

/** A chain of imports that run when the first file is loaded must not arrive at these. */
export type ReachRule = {
  readonly from: RegExp
  readonly never: RegExp
  readonly reason: string
}

export const reachRules: readonly ReachRule[] = [
  {
    from: /^cli\/(?:main|rig-[^/]*)\.ts$/,
    never: /^(?:lab|hub)\//,
    reason: 'a rig starts without loading the lab and its native database; import it where it is used, with import()',
  },
  {
    from: /^rig\/(?!test\/)/,
    never: /^(?:lab|hub|report)\//,
    reason: 'a rig runs from a copied folder',
  },
  {
    from: /^web\/(?!test\/)(?!.*\.config\.ts$)/,
    never: /^(?:node:|(?:engine|simlab|report|rig|lab|hub)\/|questions\/[^/]+\/compute)/,
    reason: 'the page computes nothing and runs in a browser',
  },
]

/** Files outside the packages that a package may import all the same. */
export const outsideFiles: Readonly<Record<string, readonly string[]>> = {
  // The command must be able to fetch a newer Node before anything else is there.
  'cli/bin.mjs': ['launch.mjs'],
}

/** Files that import by a name known only when they run; each loads files of its own folder. */
export const namesAtRunTime: readonly string[] = ['bench/runner.ts']
