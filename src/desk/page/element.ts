import { type Attributes, type ComponentChildren, type ComponentType, h as make, type VNode as PreactNode } from "preact";

export type VNode = PreactNode;

/**
 * Makes an element or a component. The library's own function, with types that stand beside exactOptionalPropertyTypes;
 * attributes of plain elements are the browser's business.
 */
export function h(tag: string, props: Readonly<Record<string, unknown>>, ...children: ComponentChildren[]): VNode;
export function h<P>(component: (props: P) => VNode | null, props: P & Attributes, ...children: ComponentChildren[]): VNode;
export function h(kind: unknown, props: object, ...children: ComponentChildren[]): VNode {
  return make(kind as ComponentType<object>, props, ...children) as VNode;
}
