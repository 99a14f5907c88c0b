use std::num::NonZeroU16;

use krilla::tagging::{
    Identifier, ListNumbering, Node as PdfNode, TableHeaderScope, Tag, TagGroup, TagKind, TagTree,
};

/// What a piece of the document is, for readers that do not see it.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Role {
    /// A numbered section.
    Section,
    /// A heading of a level.
    Heading(u16, String),
    /// A paragraph.
    Paragraph,
    /// A drawing with the text that stands for it.
    Figure(String),
    /// A drawing's caption.
    Caption,
    /// A table.
    Table,
    /// A row of it.
    Row,
    /// A column's head.
    Head,
    /// A cell.
    Cell,
    /// A list.
    List,
    /// A point of it.
    Point,
    /// What the point says.
    PointBody,
}

impl Role {
    const fn is_cell(&self) -> bool {
        matches!(self, Self::Head | Self::Cell)
    }
}

/// A node of the structure by its place in [`Structure`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct NodeId(usize);

/// The document's structure in reading order.
#[derive(Clone, Debug, Default)]
pub(super) struct Structure {
    nodes: Vec<(Role, Option<NodeId>)>,
}

impl Structure {
    /// Adds a node under another one, after all that stand there already.
    pub(super) fn add(&mut self, role: Role, under: Option<NodeId>) -> NodeId {
        self.nodes.push((role, under));
        NodeId(self.nodes.len() - 1)
    }

    /// How many nodes there are.
    pub(super) fn len(&self) -> usize {
        self.nodes.len()
    }

    /// Takes back all but the first `count` nodes.
    pub(super) fn truncate(&mut self, count: usize) {
        self.nodes.truncate(count);
    }

    /// The tree with the identifiers of what was drawn for every node, in the order drawn.
    pub(super) fn tree(&self, language: &str, drawn: &[(NodeId, Identifier)]) -> TagTree {
        let mut groups: Vec<Option<TagGroup>> =
            self.nodes.iter().map(|(role, _)| Some(TagGroup::new(kind(role)))).collect();
        for (node, identifier) in drawn {
            if let Some(Some(group)) = groups.get_mut(node.0) {
                group.push(*identifier);
            }
        }
        // Children stand after their parents, so going backwards completes each before it moves;
        // they are put in front of the ones moved before.
        let mut tree = TagTree::new().with_lang(Some(language.to_owned()));
        let mut roots: Vec<TagGroup> = Vec::new();
        for place in (0..self.nodes.len()).rev() {
            let Some(group) = groups.get_mut(place).and_then(Option::take) else { continue };
            // An empty cell keeps its column; anything else without content says nothing.
            let cell = self.nodes.get(place).is_some_and(|(role, _)| role.is_cell());
            if group.children.is_empty() && !cell {
                continue;
            }
            match self.nodes.get(place).and_then(|(_, under)| *under) {
                Some(NodeId(parent)) => {
                    if let Some(Some(parent)) = groups.get_mut(parent) {
                        parent.children.insert(0, PdfNode::Group(group));
                    }
                }
                None => roots.insert(0, group),
            }
        }
        for group in roots {
            tree.push(group);
        }
        tree
    }
}

fn kind(role: &Role) -> TagKind {
    match role {
        Role::Section => Tag::Section.into(),
        Role::Heading(level, title) => {
            let level = NonZeroU16::new(*level).unwrap_or(NonZeroU16::MIN);
            Tag::Hn(level, Some(title.clone())).into()
        }
        Role::Paragraph => Tag::P.into(),
        Role::Figure(alternative) => Tag::Figure(Some(alternative.clone())).into(),
        Role::Caption => Tag::Caption.into(),
        Role::Table => Tag::Table.into(),
        Role::Row => Tag::TR.into(),
        Role::Head => Tag::TH(TableHeaderScope::Column).into(),
        Role::Cell => Tag::TD.into(),
        Role::List => Tag::L(ListNumbering::None).into(),
        Role::Point => Tag::LI.into(),
        Role::PointBody => Tag::LBody.into(),
    }
}
