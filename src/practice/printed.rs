//! From a chart to the printed record: what `render/` needs, gathered.
