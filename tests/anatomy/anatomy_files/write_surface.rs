//! Writers of surfaces that are not ours, one library a format.

use bendwise::anatomy::surface::Mesh;
use nalgebra::Vector3;
use obj_exporter::{Geometry, ObjSet, Object, Primitive, Shape, Vertex};
use ply_rs_bw::ply::{
    Addable, DefaultElement, ElementDef, Encoding, Ply, Property, PropertyDef, PropertyType,
    ScalarType,
};
use vtkio::model::{ByteOrder, DataSet, PolyDataPiece, Version, VertexNumbers, Vtk};

/// A format of surfaces.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Format {
    Stl,
    PlyText,
    PlyBinary,
    Obj,
    Vtp,
    Legacy,
}

pub const ALL: [Format; 6] = [
    Format::Stl,
    Format::PlyText,
    Format::PlyBinary,
    Format::Obj,
    Format::Vtp,
    Format::Legacy,
];

impl Format {
    pub fn ending(self) -> &'static str {
        match self {
            Self::Stl => "stl",
            Self::PlyText | Self::PlyBinary => "ply",
            Self::Obj => "obj",
            Self::Vtp => "vtp",
            Self::Legacy => "vtk",
        }
    }
}

/// The bytes of a file with the surface, in a unit of which there are `per_mm` in a mm.
pub fn written(format: Format, mesh: &Mesh, per_mm: f64) -> Vec<u8> {
    let mesh = Mesh {
        points: mesh.points.iter().map(|p| p * per_mm).collect(),
        triangles: mesh.triangles.clone(),
    };
    match format {
        Format::Stl => stl(&mesh),
        Format::PlyText => ply(&mesh, Encoding::Ascii),
        Format::PlyBinary => ply(&mesh, Encoding::BinaryBigEndian),
        Format::Obj => obj(&mesh),
        Format::Vtp => {
            let mut bytes = Vec::new();
            polydata(&mesh).write_xml(&mut bytes).unwrap();
            bytes
        }
        Format::Legacy => {
            let mut bytes = Vec::new();
            polydata(&mesh).write_legacy(&mut bytes).unwrap();
            bytes
        }
    }
}

fn stl(mesh: &Mesh) -> Vec<u8> {
    let corner = |p: Vector3<f64>| stl_io::Vertex::new([p.x as f32, p.y as f32, p.z as f32]);
    let triangles: Vec<stl_io::Triangle> = (0..mesh.triangles.len())
        .map(|t| stl_io::Triangle {
            normal: stl_io::Normal::new([0.0; 3]),
            vertices: mesh.corners(t).map(corner),
        })
        .collect();
    let mut bytes = Vec::new();
    stl_io::write_stl(&mut bytes, triangles.iter()).unwrap();
    bytes
}

fn ply(mesh: &Mesh, encoding: Encoding) -> Vec<u8> {
    let mut ply = Ply::<DefaultElement>::new();
    ply.header.encoding = encoding;
    let mut vertex = ElementDef::new("vertex".into());
    for axis in ["x", "y", "z"] {
        let kind = PropertyType::Scalar(ScalarType::Double);
        vertex.properties.add(PropertyDef::new(axis.into(), kind));
    }
    ply.header.elements.add(vertex);
    let mut face = ElementDef::new("face".into());
    let kind = PropertyType::List(ScalarType::UChar, ScalarType::Int);
    face.properties
        .add(PropertyDef::new("vertex_indices".into(), kind));
    ply.header.elements.add(face);
    let vertices = mesh.points.iter().map(|p| {
        let mut element = DefaultElement::new();
        for (axis, x) in [("x", p.x), ("y", p.y), ("z", p.z)] {
            element.insert(axis.into(), Property::Double(x));
        }
        element
    });
    let faces = mesh.triangles.iter().map(|t| {
        let mut element = DefaultElement::new();
        let ids = t.map(|i| i as i32).to_vec();
        element.insert("vertex_indices".into(), Property::ListInt(ids));
        element
    });
    ply.payload.insert("vertex".into(), vertices.collect());
    ply.payload.insert("face".into(), faces.collect());
    let mut bytes = Vec::new();
    ply_rs_bw::writer::Writer::new()
        .write_ply(&mut bytes, &mut ply)
        .unwrap();
    bytes
}

fn obj(mesh: &Mesh) -> Vec<u8> {
    let corner = |i: u32| (i as usize, None, None);
    let shapes = mesh.triangles.iter().map(|[a, b, c]| Shape {
        primitive: Primitive::Triangle(corner(*a), corner(*b), corner(*c)),
        groups: Vec::new(),
        smoothing_groups: Vec::new(),
    });
    let set = ObjSet {
        material_library: None,
        objects: vec![Object {
            name: "lumen".into(),
            vertices: mesh
                .points
                .iter()
                .map(|p| Vertex {
                    x: p.x,
                    y: p.y,
                    z: p.z,
                })
                .collect(),
            tex_vertices: Vec::new(),
            normals: Vec::new(),
            geometry: vec![Geometry {
                material_name: None,
                shapes: shapes.collect(),
            }],
        }],
    };
    let mut bytes = Vec::new();
    obj_exporter::export(&set, &mut bytes).unwrap();
    bytes
}

fn polydata(mesh: &Mesh) -> Vtk {
    let coordinates: Vec<f32> = mesh
        .points
        .iter()
        .flat_map(|p| [p.x as f32, p.y as f32, p.z as f32])
        .collect();
    let vertices = mesh
        .triangles
        .iter()
        .flat_map(|[a, b, c]| [3, *a, *b, *c])
        .collect();
    Vtk {
        version: Version::new_legacy(2, 0),
        title: "a lumen".into(),
        byte_order: ByteOrder::BigEndian,
        data: DataSet::inline(PolyDataPiece {
            points: coordinates.into(),
            polys: Some(VertexNumbers::Legacy {
                num_cells: mesh.triangles.len() as u32,
                vertices,
            }),
            ..PolyDataPiece::default()
        }),
        file_path: None,
    }
}
