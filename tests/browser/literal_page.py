"""A page that draws every hostile pattern in every element that takes Markdown, and in a figure."""

import streamlit as st

from dashboard import theme
from dashboard.words.literal import in_figure, literal
from tests.hostile_world import PATTERNS

st.title("Patterns")
for number, pattern in enumerate(PATTERNS):
    st.markdown(literal(pattern))
    st.markdown(f"**{literal(pattern)}**, then :small[:gray[{literal(pattern)}]]\n- {literal(pattern)}")
    st.header(literal(pattern), anchor=False)
    st.button(literal(pattern), key=f"b{number}", help=literal(pattern))
    st.warning(literal(pattern))
    st.expander(literal(pattern), expanded=True).caption(literal(pattern))
st.radio(literal(PATTERNS[0]), [literal(pattern) for pattern in PATTERNS])
st.selectbox("Plain", PATTERNS)
st.metric("Plain", literal(PATTERNS[6]))
figure = theme.new_figure(theme.LIGHT, height=1200)
names = [in_figure(pattern) for pattern in PATTERNS]
figure.add_scatter(x=list(range(len(names))), y=names, mode="markers", hovertemplate=f"{names[0]}<extra></extra>")
for number, name in enumerate(names):
    figure.add_annotation(theme.label(theme.LIGHT, theme.LIGHT.text, f"<b>{name}</b>", number, name))
st.plotly_chart(figure, theme=None)
