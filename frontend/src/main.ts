import './look/fonts.css';
import './look/tokens.css';
import './look/base.css';
import './look/parts.css';
import './look/lines.css';
import { mount } from 'svelte';
import { Eke } from './core/eke';
import { browserEvents } from './core/events';
import App from './views/App.svelte';

const eke = new Eke({
  fetch: (address, how) => fetch(address, how),
  listen: browserEvents((address) => new EventSource(address)),
  keep: {
    get: (name) => localStorage.getItem(name),
    set: (name, value) => localStorage.setItem(name, value),
  },
  dark: matchMedia('(prefers-color-scheme: dark)').matches,
});
eke.start();

const target = document.getElementById('eke');
if (target) mount(App, { target, props: { eke } });
