// Who acts at this station: the person signed in, or whoever scanned a badge last.

export class Acting {
  constructor({ station, session, store = sessionStorage, element }) {
    Object.assign(this, { session, store, element, key: `lumenward.acting.${station}` });
    const kept = JSON.parse(store.getItem(this.key) ?? "null");
    this.person = kept?.session === session.id ? kept.person : session;
    this.show();
  }

  take(person) {
    this.person = person.id === this.session.id ? this.session : person;
    this.store.setItem(this.key, JSON.stringify({ session: this.session.id, person: this.person }));
    this.show();
  }

  show() {
    if (this.element) this.element.textContent = this.person.name;
  }
}
