"""What lines in words were asked for by a checklist: until 0028 only their words said it, and words change."""

from typing import Any

# As the words were made; a role that the parts list does not have was written with blanks for its underscores.
ROLE_OF_WORDS = {
    "Wiper": "wiper",
    "Foam ring": "foam_ring",
    "O-ring": "o_ring",
    "Foot seal": "foot_seal",
    "Crush washer": "crush_washer",
    "Air spring": "air_spring",
    "Spring seal kit": "spring_seal",
    "Bushing": "bushing",
    "Oil": "oil",
    "Grease": "grease",
    "Varnish": "varnish",
    "Upper assembly": "stanchion_assembly",
    "Damper": "damper",
    "Damper seal kit": "damper_seal",
    "Coil spring": "coil_spring",
    "Other": "other",
}


def name_roles(apps: Any, schema_editor: Any) -> None:
    lines = apps.get_model("workshop.PartLine").objects.using(schema_editor.connection.alias)
    in_words = lines.filter(source="finding", part=None, role="")
    for words in list(in_words.order_by("words").values_list("words", flat=True).distinct()):
        role = ROLE_OF_WORDS.get(words) or words.lower().replace(" ", "_")
        in_words.filter(words=words).update(role=role[:60])
