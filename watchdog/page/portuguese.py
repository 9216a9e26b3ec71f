"""The page's words in Portuguese (Portugal). Written by no native speaker, and not yet read by one."""

from types import MappingProxyType

from watchdog.page.links import Purpose
from watchdog.page.words import Asking, Words

_STANDS = "O que fazer está na própria mensagem."

PORTUGUESE = Words(
    lang="pt",
    asking=MappingProxyType(
        {
            Purpose.ACKNOWLEDGE: Asking(
                heading="{machine}: {what}",
                caution=None,
                note="Um toque diz à vigilância que vai tratar disto; os lembretes param. Nada muda na máquina.",
                buttons=(("acknowledge", "Eu trato disto"),),
                done="Registado: vai tratar disto",
                already="Já há alguém a tratar disto",
                by="Confirmado por",
            ),
            Purpose.FIRST_LAYER: Asking(
                heading="{machine}: como está a primeira camada?",
                caution="Veja, não toque: o bico e a mesa estão quentes. Se estiver má, pode parar o trabalho na máquina.",
                note="A resposta fica guardada com a idade da superfície da mesa. Nada muda na máquina.",
                buttons=(("good", "Boa"), ("bad", "Má"), ("skipped", "Não vi")),
                done="Registado: {answer}",
                already="Já respondido: {answer}",
                by="Respondido por",
            ),
            Purpose.ALLOW_OUTLAST: Asking(
                heading="{machine}: este trabalho pode passar do horário?",
                caution="Uma máquina quente que ninguém vigia pode pegar fogo. Autorize só quando fica alguém que "
                "a vai ver. Valem as regras da escola.",
                note="A função a quem este link foi enviado fica guardada com o trabalho. Nada muda na máquina.",
                buttons=(("allow", "Autorizar este trabalho"),),
                done="Registado: este trabalho pode continuar",
                already="Isto já foi autorizado",
                by="Autorizado por",
            ),
        }
    ),
    answers=MappingProxyType({"good": "boa", "bad": "má", "skipped": "não vista"}),
    refusals=MappingProxyType(
        {
            "damaged": (
                "Este link não está completo",
                f"Pode ter sido cortado no caminho. Abra-o outra vez, inteiro, na mensagem. Nada foi mudado. {_STANDS}",
            ),
            "forged": (
                "Este link não vale aqui",
                f"Não foi feito por esta vigilância, ou ela já tem outra chave. Nada foi mudado. {_STANDS}",
            ),
            "expired": (
                "Este link já passou do prazo",
                f"Um link só vale algum tempo. Nada foi mudado. Uma mensagem seguinte traz outro. {_STANDS}",
            ),
            "unknown": (
                "Aqui nada se sabe disto",
                "A vigilância não encontra esse alarme ou trabalho; pode já ter acabado há muito. Nada foi mudado.",
            ),
            "no-such-page": ("Não há nada aqui", "Abra o link da mensagem, inteiro."),
            "wrong-method": (
                "Isso não é possível aqui",
                "Um link abre-se, e depois responde-se com o botão. Nada foi mudado.",
            ),
            "oversize": ("Foi demasiado", "Um toque envia poucas letras. Nada foi mudado. Abra o link outra vez."),
            "malformed": ("Não se percebeu", "Nada foi mudado. Abra o link outra vez e use o botão."),
            "too-many": (
                "Demasiadas perguntas vindas daqui",
                f"Nada foi mudado. Espere um minuto e abra o link outra vez. {_STANDS}",
            ),
            "unavailable": (
                "A vigilância não respondeu",
                f"Não se sabe se alguma coisa ficou registada. Abra o link outra vez daqui a um minuto. {_STANDS}",
            ),
        }
    ),
    over=("Isto já acabou", "Não há mais nada a responder."),
    about="Sobre",
    since="Desde",
    now="Agora",
    sent_to="Este link foi enviado a",
    at="Às",
    how="Por meio de",
    not_known="não se sabe",
    cannot_tell="não se pode saber",
    changed_nothing="Este toque não mudou nada.",
    nothing_at_machine="Nada foi mudado na máquina.",
    ago="{time} (há {age})",
    status="O que a vigilância vê",
    no_machine="Nenhuma máquina está a ser vigiada.",
    repair="fora de serviço até {time}, só se avisam os alarmes urgentes",
    shelved="suspenso até {time}: {what}",
    advisory="O Emberward só aconselha. Não é um dispositivo de segurança, e a falta de uma mensagem não quer dizer nada.",
    days=("seg", "ter", "qua", "qui", "sex", "sáb", "dom"),
    months=("jan", "fev", "mar", "abr", "mai", "jun", "jul", "ago", "set", "out", "nov", "dez"),
)
