using MeshTrace.Analysis.History;
using MeshTrace.Protocol.Access.Catalogue;

namespace MeshTrace.Reports.Words;

/// <summary>
/// The account in plain words, most important first: what became of the presses, what stands out, each press, notes, transfers, messages that do not fit, how the
/// network was set up and changed, connections, networks, nodes, receivers, repeats and relays.
/// </summary>
public static class Explanation
{
    /// <param name="history">What the capture told.</param>
    /// <param name="paper">Where to write.</param>
    /// <param name="vendor">Names of vendor messages, or null.</param>
    public static void Write(CaptureHistory history, Paper paper, VendorCatalogue? vendor = null)
    {
        var account = new Account(history, new NameBook(history), vendor);
        GlanceSection.Write(paper, account);
        StandOutSection.Write(paper, account);
        PressSection.Write(paper, account);
        NoteSection.Write(paper, account);
        TransferSection.Write(paper, account);
        UnfitSection.Write(paper, account);
        StorySection.Write(paper, account);
        TextLogSection.Write(paper, account);
        ConnectionSection.Write(paper, account);
        NetworkSection.Write(paper, account);
        NodeSection.Write(paper, account);
        ReceiverSection.Write(paper, account);
        RelaySection.Write(paper, account);
    }
}
