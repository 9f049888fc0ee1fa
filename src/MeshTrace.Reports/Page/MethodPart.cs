using MeshTrace.Analysis.Completeness;
using MeshTrace.Analysis.Description;
using MeshTrace.Protocol.Link;
using MeshTrace.Reports.Words;

namespace MeshTrace.Reports.Page;

/// <summary>What the conclusions rest on: receivers, keys by index and name, what the words for certainty mean, and what "not heard" means.</summary>
internal static class MethodPart
{
    private const int MostReceivers = 60, MostDeaf = 60;

    public static void Write(PageDraft draft)
    {
        foreach (string says in Steps)
            draft.Says(says);
        WriteWords(draft.Markup);
        WriteReceivers(draft);
        draft.Heading("Networks and keys");
        draft.Words(NetworkSection.Write, "No key was given, and nothing was heard that needs one.");
    }

    private static IReadOnlyList<string> Steps { get; } =
    [
        "The capture was read frame by frame. Frames with a wrong CRC were counted and left out. Each mesh PDU was tried with the keys given; one counts as opened only where its integrity check (MIC) fits. Copies of the same Network PDU, at every TTL, were put together; so were the segments of a message, and the repetitions of one press.",
        "The elements that should act on a press are those that subscribe to its address, as the network's description and the Config messages heard tell. Who answered is told by Status messages.",
        "Not heard does not mean not sent. A receiver misses part of what is on the air; how much, is estimated from the gaps in each node's sequence numbers. NONE is said of a press only where it is unlikely (under 5 %) that every answer was missed; while the receivers were deaf, the fate stays open.",
    ];

    private static void WriteWords(Markup markup)
    {
        markup.Element("h3", "Words of certainty").Open("dl", ("class", "legend"));
        foreach ((string word, string means) in (ReadOnlySpan<(string, string)>)
        [
            ("certain", "the capture shows it, and nothing that was not heard could change it"),
            ("likely", "it is the best explanation, and what speaks against it was looked for and not found"),
            ("possible", "it fits, but so does something else, or too little was heard to tell"),
            ("Fault", "something does not work and needs to be put right"),
            ("Warning", "something works badly or soon will"),
            ("Remark", "worth knowing, nothing to be done at once"),
        ])
            markup.Open("div").Element("dt", word).Element("dd", means).Close();
        markup.Close();
    }

    private static void WriteReceivers(PageDraft draft)
    {
        IReadOnlyList<ReceiverDescription> receivers = draft.History.Receivers;
        if (receivers.Count == 0)
            return;
        draft.Heading("Receivers");
        using (var grid = new Grid(draft.Markup, "What each receiver was able to hear", new Column("No.", true), "File", "Interface", "Link type", "Channels", new Column("Frames", true), new Column("Wrong CRC", true)))
        {
            foreach (ReceiverDescription receiver in receivers.Take(MostReceivers))
            {
                ReceiverView? view = draft.History.ReceiverViews.Where(one => one.Receiver == receiver.Index).Select(one => (ReceiverView?)one).FirstOrDefault();
                grid.Row(Phrases.Number(receiver.Index + 1), receiver.File == "-" ? "standard input" : SafeText.Strip(Path.GetFileName(receiver.File), 100), SafeText.Strip(receiver.Interface, 100),
                    receiver.LinkType.ToString(), Plan(view), view is { } known ? Phrases.Number(known.Frames) : "-", view is { } counted ? Phrases.Number(counted.BadCrc) : "-");
            }
        }
        draft.LeftOut(receivers.Count - MostReceivers, "receivers", "the account counts them with the others");
        WriteDeafness(draft, draft.History.Deafness.Spans);
    }

    private static string Plan(ReceiverView? view) => view?.Plan switch
    {
        ChannelPlan.OneChannel => $"channel {view.Value.Channel} alone: what is lost there looks lost in the network",
        ChannelPlan.Hopping => "one at a time: it hears a third of all packets at best",
        ChannelPlan.AllAtOnce => "all three",
        _ => "not told by the file",
    };

    private static void WriteDeafness(PageDraft draft, IReadOnlyList<DeafSpan> spans)
    {
        if (spans.Count == 0)
        {
            draft.Says("No time was found in which a receiver was deaf.");
            return;
        }
        using (var grid = new Grid(draft.Markup, "Times in which a receiver was deaf (UTC)", new Column("Receiver", true), "From", "Until", "For", "How it is known"))
        {
            foreach (DeafSpan span in spans.Take(MostDeaf))
            {
                grid.Row(Phrases.Number(span.Receiver + 1), Phrases.Clock(span.FromNs), Phrases.Clock(span.ToNs), Phrases.Duration(((double)span.ToNs - span.FromNs) / 1e6),
                    span.Reason == DeafReason.Silence ? "nothing from anyone, while several were heard steadily before and after" : $"its recorder lost {Phrases.Count(span.Lost, "packet")} by its own count");
            }
        }
        draft.LeftOut(spans.Count - MostDeaf, "deaf times", "the first ones are shown");
    }
}
