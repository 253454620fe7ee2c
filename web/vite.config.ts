// How the page is built: into dist/, with hashed names and ready-made compressed copies, nothing inlined that a strict content policy would refuse.
import { readdirSync, readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { brotliCompressSync, gzipSync } from 'node:zlib'
import react from '@vitejs/plugin-react'
import { build, defineConfig, type Plugin } from 'vite'
import { hubProxy } from './hub-proxy.ts'

/** Where a hub listens while the page is worked on. */
const HUB = process.env['GUARDBAND_HUB'] ?? 'http://127.0.0.1:4890'

export default defineConfig({
  root: import.meta.dirname,
  base: '/',
  plugins: [react(), compressedCopies(), benchView()],
  build: {
    outDir: 'dist',
    emptyOutDir: true,
    target: 'es2024',
    // Fonts and icons stay files: a data: address would need its own permission in the content policy.
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
    // One script is quicker than several that wait for each other, a kind of question apart; its compressed size is what counts.
    chunkSizeWarningLimit: 700,
    rolldownOptions: {
      // How long a plugin takes on a busy machine is no fault of the page.
      checks: { bundlerTimings: false },
      treeshake: { moduleSideEffects: [{ test: /\/(?:model|questions)\//, sideEffects: false }] },
      // What several chunks share runs before any of them: the schema library must be told there, before the first schema is made, that it may not build functions from text.
      output: { codeSplitting: { groups: [{ name: 'schemas', test: /\/node_modules\/zod\/|\/hub\/no-eval\.ts$/ }] } },
    },
  },
  server: { proxy: hubProxy(HUB) },
})

/** Builds the bench view for phones beside the page, into a folder of its own. */
function benchView(): Plugin {
  return {
    name: 'bench-view',
    apply: 'build',
    async writeBundle({ dir }) {
      if (dir === undefined) return
      await build({ root: join(import.meta.dirname, 'phone'), configFile: join(import.meta.dirname, 'phone', 'vite.config.ts'), logLevel: 'warn', build: { outDir: join(dir, 'phone') } })
    },
  }
}

/** Writes a .br and a .gz beside every text file, so that the hub sends what is there and compresses nothing. */
export function compressedCopies(): Plugin {
  return {
    name: 'compressed-copies',
    apply: 'build',
    writeBundle({ dir }) {
      if (dir === undefined) return
      for (const entry of readdirSync(dir, { recursive: true, withFileTypes: true })) {
        if (!entry.isFile() || !/\.(?:js|css|html|svg)$/.test(entry.name)) continue
        const path = join(entry.parentPath, entry.name)
        const bytes = readFileSync(path)
        writeFileSync(`${path}.br`, brotliCompressSync(bytes))
        writeFileSync(`${path}.gz`, gzipSync(bytes))
      }
    },
  }
}
