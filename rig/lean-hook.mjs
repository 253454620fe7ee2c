// Hands the loader the texts that lean-start.ts prepared, and removes them from the disk. Plain JavaScript: it stands in for what reads types.
import { readFileSync, rmSync } from 'node:fs'
import { registerHooks } from 'node:module'
import { dirname } from 'node:path'

const path = new URL(import.meta.url).searchParams.get('texts') ?? ''
/** @type {Record<string, string>} */
const texts = JSON.parse(readFileSync(path, 'utf8'))
rmSync(dirname(path), { recursive: true, force: true })

// Checkers written out for each schema take memory, and a rig checks little.
Object.assign(globalThis, { __zod_globalConfig: { jitless: true } })

/** The checker's messages in some fifty languages, of which one is spoken here. */
const WORDS = '/zod/v4/locales/index.js'

registerHooks({
  load: (url, context, next) => {
    if (url.endsWith(WORDS)) return { format: 'module', source: "export { default as en } from './en.js'", shortCircuit: true }
    const source = texts[url]
    if (source === undefined) return next(url, context)
    delete texts[url]
    return { format: 'module', source, shortCircuit: true }
  },
})
