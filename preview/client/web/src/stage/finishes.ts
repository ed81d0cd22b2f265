/** What surfaces look like: one material for each finish of the document, on molding and on what stands round it. */

import { Color, FrontSide, MeshStandardMaterial, type Plane, SRGBColorSpace } from "three";
import type { Finish } from "../document";

/** The neutral tone mapping takes off what a coat mirrors of a bright room (4 %); so much has to be there. */
const SHEEN = new Color(0.036, 0.036, 0.036);
const NONE = new Color(0, 0, 0);

export class Finishes {
  private readonly materials = new Map<string, MeshStandardMaterial>();
  private bright: Color = SHEEN;

  /** plane: cuts everything that is shown. */
  constructor(
    private readonly finishes: readonly Finish[],
    private readonly plane: Plane,
  ) {}

  at(index: number): Finish {
    return this.finishes[index] ?? this.finishes[0]!;
  }

  /** The number of a finish by its name, or null. */
  named(name: string): number | null {
    const index = this.finishes.findIndex((finish) => finish.name === name);
    return index < 0 ? null : index;
  }

  molding(index: number): MeshStandardMaterial {
    return this.known(`molding ${index}`, () => made(this.at(index), 1, true));
  }

  around(index: number): MeshStandardMaterial {
    return this.known(`around ${index}`, () => made(this.at(index), 2, false));
  }

  /** With a room to mirror, surfaces shine by themselves; without one they are given what they would mirror of it. */
  mirror(room: boolean): void {
    this.bright = room ? NONE : SHEEN;
    for (const material of this.materials.values()) material.emissive.copy(this.bright);
  }

  dispose(): void {
    for (const material of this.materials.values()) material.dispose();
    this.materials.clear();
  }

  private known(key: string, make: () => MeshStandardMaterial): MeshStandardMaterial {
    let material = this.materials.get(key);
    if (!material) {
      material = make();
      material.clippingPlanes = [this.plane];
      material.emissive.copy(this.bright);
      this.materials.set(key, material);
    }
    return material;
  }
}

export function colorOf(finish: Finish): Color {
  return new Color().setRGB(...finish.color, SRGBColorSpace);
}

/** behind: how far it gives way in depth to lines (1) and to molding that lies on it (2). */
function made(finish: Finish, behind: number, molding: boolean): MeshStandardMaterial {
  const material = new MeshStandardMaterial({
    color: colorOf(finish),
    roughness: Math.max(finish.roughness, 0.15),
    metalness: finish.metallic,
    // A sheet seen from behind hides nothing: whoever walks behind a wall still sees the molding.
    side: FrontSide,
    shadowSide: FrontSide,
    clipShadows: true,
    polygonOffset: true,
    polygonOffsetFactor: behind,
    polygonOffsetUnits: behind,
  });
  if (molding && finish.kind === "clear") grain(material);
  return material;
}

/** Wood under a clear finish: long streaks along the grain (u, mm), each piece from another board. */
function grain(material: MeshStandardMaterial): void {
  material.onBeforeCompile = (shader) => {
    shader.vertexShader = shader.vertexShader
      .replace("#include <common>", "#include <common>\nvarying vec3 vGrain;")
      .replace(
        "#include <uv_vertex>",
        `#include <uv_vertex>
        vGrain = vec3( uv, 0.0 );
        #ifdef USE_BATCHING
          vGrain.z = getIndirectIndex( gl_DrawID );
        #endif`,
      );
    shader.fragmentShader = shader.fragmentShader
      .replace("#include <common>", `#include <common>\n${GRAIN}`)
      .replace("#include <color_fragment>", "#include <color_fragment>\ndiffuseColor.rgb *= grained( vGrain );");
  };
  material.customProgramCacheKey = () => "grain";
}

const GRAIN = /* glsl */ `
varying vec3 vGrain;

float grainHash( vec2 p ) {
  p = fract( p * vec2( 0.1031, 0.1030 ) );
  p += dot( p, p.yx + 33.33 );
  return fract( ( p.x + p.y ) * p.x );
}

float grainNoise( vec2 p ) {
  vec2 i = floor( p );
  vec2 f = fract( p );
  f = f * f * ( 3.0 - 2.0 * f );
  return mix(
    mix( grainHash( i ), grainHash( i + vec2( 1.0, 0.0 ) ), f.x ),
    mix( grainHash( i + vec2( 0.0, 1.0 ) ), grainHash( i + vec2( 1.0, 1.0 ) ), f.x ), f.y );
}

vec3 grained( vec3 at ) {
  float board = grainHash( vec2( at.z * 7.31 + 1.7, at.z * 3.17 + 9.2 ) );
  vec2 p = at.xy + vec2( board * 4000.0, board * 913.0 );
  float wander = grainNoise( vec2( p.x * 0.006, p.y * 0.05 ) );
  float ring = 0.5 + 0.5 * sin( p.y * 0.55 + wander * 14.0 );
  float pores = grainNoise( vec2( p.x * 0.045, p.y * 2.1 ) );
  float fine = clamp( 1.0 - 1.2 * fwidth( p.y ), 0.0, 1.0 );
  float broad = clamp( 1.0 - 0.12 * fwidth( p.y ), 0.0, 1.0 );
  float dark = broad * 0.16 * ( ring * ring - 0.4 ) + fine * 0.16 * ( pores - 0.5 ) + 0.10 * ( board - 0.5 );
  return vec3( 1.0 ) - dark * vec3( 0.8, 1.0, 1.25 );
}
`;
