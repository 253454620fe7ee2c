// How the bench view is built: a page of its own, small, and served by the second listener under /bench.
import react from '@vitejs/plugin-react'
import { defineConfig } from 'vite'
import { compressedCopies } from '../vite.config.ts'

export default defineConfig({
  root: import.meta.dirname,
  base: '/bench/',
  plugins: [react(), compressedCopies()],
  build: {
    outDir: '../dist/phone',
    emptyOutDir: true,
    target: 'es2022',
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
    // How long a plugin takes on a busy machine is no fault of the page.
    rolldownOptions: { checks: { bundlerTimings: false }, treeshake: { moduleSideEffects: [{ test: /\/model\//, sideEffects: false }] } },
  },
})
