"""The pieces of making a mesh: outlines as chords, sizes, rows of triangles round bends, panels filled."""
