using MeshTrace.Reports.Words;
using MeshTrace.Screens.Reading;

namespace MeshTrace.Screens;

/// <summary>The mark of each deed on a timeline, and what it means.</summary>
internal static class DeedWords
{
    public static char Mark(Deed deed) => deed switch
    {
        Deed.PressedInVain => '!',
        Deed.PressedPartly => '?',
        Deed.Pressed => 'P',
        Deed.Answered => 'a',
        Deed.Sent => 'm',
        Deed.Segment => 's',
        Deed.Acknowledged => 'k',
        Deed.Relayed => '·',
        _ => ' ',
    };

    public static Tone ToneOf(Deed deed) => deed switch
    {
        Deed.PressedInVain => Tone.Bad,
        Deed.PressedPartly => Tone.Mixed,
        Deed.Pressed => Tone.Strong,
        Deed.Answered => Tone.Good,
        Deed.Relayed => Tone.Quiet,
        _ => Tone.Plain,
    };

    public static string Meaning(Deed deed) => deed switch
    {
        Deed.PressedInVain => "a press that nobody was heard to answer",
        Deed.PressedPartly => "a press that only some answered",
        Deed.Pressed => "any other press",
        Deed.Answered => "the answer to a press",
        Deed.Sent => "another message of the node's own",
        Deed.Segment => "a segment of a segmented message",
        Deed.Acknowledged => "an acknowledgment of segments",
        _ => "a PDU of another node, relayed",
    };

    public static string Verb(Deed deed) => deed switch
    {
        Deed.PressedInVain => "pressed, in vain:",
        Deed.PressedPartly => "pressed, partly answered:",
        Deed.Pressed => "pressed:",
        Deed.Answered => "answered:",
        Deed.Relayed => "relayed",
        _ => "sent",
    };
}
