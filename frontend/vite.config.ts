import { svelte } from '@sveltejs/vite-plugin-svelte';
import { defineConfig } from 'vitest/config';

export default defineConfig({
  plugins: [svelte()],
  base: '/',
  build: { outDir: '../src/eke/web/built', emptyOutDir: true, target: 'es2022', sourcemap: false },
  // Threads: forked workers stop without an answer on some machines.
  // a test is bounded by its work; a busy machine may take its time
  test: { include: ['src/**/*.test.ts', 'tests/**/*.test.ts'], environment: 'node', pool: 'threads', testTimeout: 60_000 },
});
