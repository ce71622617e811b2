"""What the columns are called in German, French, Spanish, Italian and Dutch: one table beside the
vocabulary.

The trade's words, from memory of bakery practice, no source; units and months are held against
Babel's. Capitals, accents, order of words and little words (``de la``, ``vom``) do not count; see
``headers`` in the room of reading.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

LANGUAGES = ("de", "fr", "es", "it", "nl")

# Column → its names, language by language in the order of LANGUAGES; a comma between two names.
_ABROAD: Mapping[str, tuple[str, str, str, str, str]] = {
    "loaf": (
        "Brot, Laib, Brotnummer, Laibnummer, Brot Nummer, Laib Nummer, Probe, Gebäck",
        "Pain, Numéro pain, Échantillon, Miche",
        "Pan, Número pan, Hogaza, Muestra, Pieza",
        "Pane, Numero pane, Pagnotta, Campione",
        "Brood, Broodnummer, Brood nummer, Monster",
    ),
    "mix": (
        "Teig, Teignummer, Charge, Teigcharge, Ansatz, Knetung",
        "Pâte, Pétrissée, Pétrissage, Pétrin",
        "Masa, Amasado, Amasijo, Lote, Lote de masa",
        "Impasto, Lotto impasto",
        "Deeg, Deegnummer, Deegcharge",
    ),
    "day": (
        "Tag, Backtag, Datum, Backdatum",
        "Jour, Jour de cuisson, Date de cuisson",
        "Día, Fecha, Día de horneado, Fecha de horneado",
        "Giorno, Data, Giorno di cottura, Data di cottura",
        "Dag, Bakdag, Datum, Bakdatum",
    ),
    "oven": ("Ofen, Backofen", "Four", "Horno", "Forno", "Oven"),
    "deck": (
        "Etage, Ofenetage",
        "Étage, Étage du four",
        "Piso, Piso del horno",
        "Ripiano del forno",
        "Ovenvloer",
    ),
    "oven_load": (
        "Schuss, Ofenschuss, Ofenladung, Beschickung",
        "Fournée, Enfournement",
        "Hornada",
        "Infornata",
        "Ovenlading, Inschiet",
    ),
    "oven_place": (
        "Ofenplatz, Platz im Ofen, Platz",
        "Place, Place au four, Place dans le four, Position au four",
        "Posición, Posición en el horno, Lugar en el horno",
        "Posizione, Posizione nel forno",
        "Plaats, Plaats in de oven, Ovenplaats, Positie",
    ),
    "bake_order": (
        "Backreihenfolge, Backfolge",
        "Ordre de cuisson",
        "Orden de horneado",
        "Ordine di cottura",
        "Bakvolgorde",
    ),
    "formula": (
        "Rezept, Rezeptur, Sorte, Variante",
        "Recette, Formule, Variante",
        "Receta, Fórmula, Variante",
        "Ricetta, Variante",
        "Recept, Receptuur, Variant",
    ),
    "tin": (
        "Form, Backform, Kastenform",
        "Moule",
        "Molde",
        "Stampo",
        "Blik, Bakblik, Bakvorm, Vorm",
    ),
    "proof_min": (
        "Gare, Stückgare, Endgare, Gärzeit, Gärdauer, Stückgarzeit",
        "Apprêt, Temps d'apprêt, Durée d'apprêt, Pousse, Temps de pousse, Durée de pousse",
        "Fermentación, Tiempo de fermentación, Fermentación final, Levado, Tiempo de levado",
        "Lievitazione, Tempo di lievitazione, Lievitazione finale, Appretto",
        "Rijs, Rijstijd, Narijs, Narijstijd",
    ),
    "dough_g": (
        (
            "Teiggewicht, Teigmasse, Teigeinlage, Einwaage, Gewicht Teig, Gewicht vor dem Backen,"
            " Gewicht vorher, Gewicht roh, Teigling"
        ),
        (
            "Poids pâte, Poids du pâton, Masse pâte, Pâton, Poids avant, Poids avant cuisson, Poids"
            " cru, Masse du pâton"
        ),
        (
            "Peso masa, Peso de la masa, Peso antes, Peso crudo, Peso en crudo, Peso antes de"
            " hornear, Peso antes del horneado"
        ),
        "Peso impasto, Peso crudo, Peso prima, Peso prima della cottura, Pezzatura, Massa impasto",
        (
            "Deeggewicht, Gewicht deeg, Gewicht voor, Gewicht voor het bakken, Afweeggewicht,"
            " Deegmassa"
        ),
    ),
    "loaf_g": (
        (
            "Brotgewicht, Gebäckgewicht, Brotmasse, Gewicht Brot, Gewicht nach dem Backen, Gewicht"
            " nachher, Gewicht gebacken, Backgewicht, Brot"
        ),
        "Poids pain, Poids du pain, Masse pain, Poids après, Poids après cuisson, Poids cuit, Pain",
        (
            "Peso pan, Peso del pan, Peso después, Peso horneado, Peso después de hornear, Peso"
            " cocido, Peso después del horneado, Pan"
        ),
        "Peso pane, Peso del pane, Peso dopo, Peso cotto, Peso dopo la cottura, Massa pane, Pane",
        "Broodgewicht, Gewicht brood, Gewicht na, Gewicht na het bakken, Broodmassa, Brood",
    ),
    "loaf_ml": (
        "Volumen, Brotvolumen, Gebäckvolumen, Volumen Brot, Brot",
        "Volume pain, Volume du pain, Pain",
        "Volumen, Volumen pan, Volumen del pan, Pan",
        "Volume pane, Volume del pane, Pane",
        "Broodvolume, Volume brood, Inhoud, Brood",
    ),
    "box_ml": (
        "Messkasten, Kasten leer, Leerer Kasten, Leerer Messkasten, Gefäß leer, Leeres Gefäß",
        "Boîte vide, Boîte, Bac vide, Volume boîte vide",
        "Caja vacía, Caja, Volumen caja vacía",
        "Scatola vuota, Scatola, Contenitore vuoto",
        "Lege bak, Bak leeg, Lege doos, Doos leeg, Meetbak",
    ),
    "seed_ml": (
        "Saat, Samen, Raps, Rapssaat, Saat übrig, Samen übrig, Rapssaat übrig, Restsaat",
        "Graines, Colza, Graines restantes, Graines autour du pain, Colza restant",
        "Semillas, Colza, Semillas sobrantes, Semillas restantes",
        "Semi, Colza, Semi rimasti, Semi avanzati",
        "Zaad, Koolzaad, Raapzaad, Zaad over, Koolzaad over, Restzaad",
    ),
    "height_mm": (
        "Höhe, Brothöhe, Laibhöhe",
        "Hauteur, Hauteur pain, Hauteur du pain",
        "Altura, Alto, Altura del pan",
        "Altezza, Altezza pane, Altezza del pane",
        "Hoogte, Broodhoogte",
    ),
    "dough_temp_c": (
        "Teigtemperatur, Teigtemp, Temperatur Teig, Teig",
        "Température pâte, Température de la pâte, Pâte",
        "Temperatura masa, Temperatura de la masa, Masa",
        "Temperatura impasto, Temperatura dell'impasto, Impasto",
        "Deegtemperatuur, Deegtemp, Deeg",
    ),
    "cool_min": (
        "Abkühlzeit, Auskühlzeit, Kühlzeit, Abkühlung, Abkühldauer",
        "Refroidissement, Temps de refroidissement, Ressuage, Durée de ressuage",
        "Enfriado, Enfriamiento, Tiempo de enfriamiento, Tiempo de enfriado",
        "Raffreddamento, Tempo di raffreddamento",
        "Afkoeltijd, Koeltijd, Afkoelen, Afkoeling",
    ),
    "measure_order": (
        "Messreihenfolge",
        "Ordre de mesure",
        "Orden de medición",
        "Ordine di misura",
        "Meetvolgorde",
    ),
    "table": ("Tisch", "Équipe", "Mesa, Equipo", "Tavolo, Squadra", "Tafel"),
    "baker": (
        "Bäcker, Bäckerin, Schüler, Schülerin",
        "Boulanger, Boulangère, Élève",
        "Panadero, Panadera, Alumno",
        "Fornaio, Panettiere, Alunno",
        "Bakker, Leerling",
    ),
    "counts": (
        "Zählt, Zählt mit, Gültig, Verwendet, Verwenden, Benutzt, Gewertet, Werten, Brot zählt",
        "Compte, Valide, Utilisé, Utiliser, Retenu, Gardé, Garder, Inclus, Utiliser pain",
        "Cuenta, Válido, Usado, Usar, Incluido, Incluir, Usar pan",
        "Conta, Valido, Usato, Usare, Incluso, Includere, Usare pane",
        "Telt, Telt mee, Meetellen, Geldig, Gebruikt, Gebruiken, Brood gebruiken",
    ),
    "void": (
        "Ausgeschlossen, Ungültig, Verworfen, Ausschuss, Ausfall, Ausgefallen, Weggelassen",
        "Écarté, Exclu, Nul, Annulé",
        "Descartado, Excluido, Anulado",
        "Scartato, Escluso, Annullato",
        "Afgekeurd, Uitgesloten, Vervallen, Ongeldig, Uitval, Weggelaten",
    ),
    "note": (
        "Notiz, Notizen, Bemerkung, Bemerkungen, Anmerkung, Anmerkungen, Kommentar",
        "Remarque, Remarques, Commentaire, Commentaires, Observations",
        "Nota, Notas, Observación, Observaciones, Comentario, Comentarios",
        "Nota, Osservazione, Osservazioni, Commento, Commenti",
        "Opmerking, Opmerkingen, Notitie, Notities",
    ),
    "specific_volume": (
        "Spezifisches Volumen, Spezifisches Brotvolumen",
        "Volume spécifique, Volume massique",
        "Volumen específico",
        "Volume specifico",
        "Specifiek volume",
    ),
    "bake_loss_pct": (
        "Backverlust, Ausbackverlust",
        "Perte à la cuisson, Perte de cuisson",
        "Pérdida de horneado, Merma, Merma de horneado",
        "Calo peso, Calo di cottura, Perdita di cottura",
        "Bakverlies",
    ),
    "assessor": (
        "Prüfer, Prüferin, Verkoster, Wer",
        "Juge, Dégustateur, Goûteur, Qui",
        "Juez, Catador, Quién",
        "Giudice, Assaggiatore, Chi",
        "Beoordelaar, Proever, Jurylid, Wie",
    ),
    "attribute": (
        "Merkmal, Eigenschaft",
        "Attribut, Critère",
        "Atributo, Criterio",
        "Attributo, Criterio",
        "Kenmerk, Eigenschap",
    ),
    "score": (
        "Punkte, Punktzahl, Bewertung",
        "Note sur 10, Points",
        "Puntuación, Puntos",
        "Punteggio, Punti",
        "Punten, Cijfer",
    ),
    "repeat": ("Wiederholung", "Répétition", "Repetición", "Ripetizione", "Herhaling"),
}

# Words that stand for an English one inside a header.
WORDS: Mapping[str, str] = {
    "nummer": "number",
    "numero": "number",
    "gewicht": "mass",
    "masse": "mass",
    "poids": "mass",
    "peso": "mass",
    "massa": "mass",
    "volumen": "volume",
    "temperatur": "temperature",
    "temperatura": "temperature",
    "temperatuur": "temperature",
    "zeit": "time",
    "dauer": "time",
    "temps": "time",
    "duree": "time",
    "tiempo": "time",
    "tempo": "time",
    "tijd": "time",
    "reihenfolge": "order",
    "ordre": "order",
    "orden": "order",
    "ordine": "order",
    "volgorde": "order",
    "gruppe": "group",
    "groupe": "group",
    "grupo": "group",
    "gruppo": "group",
    "groep": "group",
}
LITTLE_WORDS = frozenset(
    re.findall(
        r"\S+",
        """
    der die das dem den des vom von im am zu le la les du de au aux a dans el los las del al en lo
    il i gli questo questa dieses diesen dies ce cet cette este esta dit deze
    della dello dell nel nella di da het een van""",
    )
)


def abroad(column: str, language: str) -> tuple[str, ...]:
    """Return what a column is called in a language; nothing where the table has no name for it."""
    names = _ABROAD.get(column)
    if names is None:
        return ()
    return tuple(
        name.strip() for name in names[LANGUAGES.index(language)].split(",") if name.strip()
    )
