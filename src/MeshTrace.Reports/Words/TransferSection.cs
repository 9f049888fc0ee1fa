using System.Numerics;
using MeshTrace.Analysis.Transfers;
using MeshTrace.Reports.Records;

namespace MeshTrace.Reports.Words;

/// <summary>Segmented messages: those that did not arrive first, then the others while there is room.</summary>
internal static class TransferSection
{
    private const int MostWhole = 10;
    private const int MostUnfinished = 40;

    public static void Write(Paper paper, Account account)
    {
        IReadOnlyList<Transfer> transfers = account.History.Transfers;
        if (transfers.Count == 0)
            return;
        paper.Heading($"Transfers (segmented messages): {Phrases.Number(transfers.Count)}");
        List<Transfer> unfinished = transfers.Where(transfer => transfer.Outcome is TransferOutcome.Incomplete or TransferOutcome.Cancelled).ToList();
        List<Transfer> whole = transfers.Where(transfer => transfer.Outcome is TransferOutcome.Acknowledged or TransferOutcome.AllHeard).ToList();
        foreach (Transfer transfer in unfinished.Take(MostUnfinished))
            WriteOne(paper, account, transfer);
        Remainder(paper, unfinished.Count - MostUnfinished, "more that did not arrive whole");
        foreach (Transfer transfer in whole.Take(MostWhole))
            WriteOne(paper, account, transfer);
        Remainder(paper, whole.Count - MostWhole, "more that arrived whole");
    }

    private static void Remainder(Paper paper, int count, string what)
    {
        if (count > 0)
            paper.Paragraph($"{Phrases.Number(count)} {what}: 'meshtrace records --only transfer' lists all.", tone: Tone.Quiet);
    }

    private static void WriteOne(Paper paper, Account account, Transfer transfer)
    {
        paper.Paragraph(
            $"{Phrases.Clock(transfer.FirstTimeNs)}  {DisplayWidth.Isolate(account.Names.Short(transfer.Src))} > {DisplayWidth.Isolate(account.Names.Short(transfer.Dst))}{What(account, transfer)}: {Fate(transfer)}",
            $"  {MarkOf(transfer.Outcome),-5}", markTone: ToneOf(transfer.Outcome));
    }

    /// <summary>How it ended, in a word that needs no colour.</summary>
    public static string MarkOf(TransferOutcome outcome) => outcome switch
    {
        TransferOutcome.Acknowledged => "OK",
        TransferOutcome.AllHeard => "?",        // this receiver heard it all; whether the node did, nobody said
        TransferOutcome.Cancelled => "FAIL",
        _ => "PART",
    };

    public static Tone ToneOf(TransferOutcome outcome) => outcome switch
    {
        TransferOutcome.Acknowledged => Tone.Good,
        TransferOutcome.AllHeard => Tone.Quiet,
        TransferOutcome.Cancelled => Tone.Bad,
        _ => Tone.Mixed,
    };

    /// <summary>Name of the message it brought, after a comma; empty where it is not known.</summary>
    public static string What(Account account, Transfer transfer)
    {
        if (transfer.Message < 0)
            return "";
        ref readonly MessageRow message = ref account.History.Messages[transfer.Message];
        if (!message.Decrypted)
            return ", not decrypted";
        return MessageNames.Find(message.IsControl, message.Opcode, account.Vendor) is { } name ? ", " + name : message.Opcode == default ? "" : $", opcode {message.Opcode}";
    }

    /// <summary>How it went, in a phrase.</summary>
    public static string Fate(Transfer transfer)
    {
        string segments = Phrases.Count(transfer.Segments, "segment");
        double? ms = JsonForms.Milliseconds(transfer.FirstTimeNs, transfer.LastTimeNs);
        string took = ms is { } known ? " in " + Phrases.Duration(known) : "";
        int repeats = transfer.Sent.Count(segment => !segment.GivenOn) - BitOperations.PopCount(transfer.Heard);
        string sentAgain = repeats > 0 ? $", {Phrases.Count(repeats, "segment")} sent again" : "";
        uint missing = ~transfer.Heard & transfer.AllSegments;
        return transfer.Outcome switch
        {
            TransferOutcome.Acknowledged when missing != 0 => $"all {segments} acknowledged{took}, although this receiver missed {Phrases.Runs(missing)}{sentAgain}",
            TransferOutcome.Acknowledged => $"all {segments} acknowledged{took}{sentAgain}",
            TransferOutcome.AllHeard when !transfer.Dst.IsUnicast => $"all {segments} heard{took}; a group does not acknowledge{sentAgain}",
            TransferOutcome.AllHeard => $"all {segments} heard{took}, but no full acknowledgment was heard{sentAgain}",
            TransferOutcome.Cancelled => $"cancelled by the receiving node after {BitOperations.PopCount(transfer.Heard)} of {segments}{took}",
            _ => $"segment {Phrases.Runs(missing)} of 0-{transfer.Segments - 1} not heard{(transfer.Acks.Count == 0 ? ", nor any acknowledgment" : ", last acknowledgment names " + Named(transfer.Acks[^1].Block & transfer.AllSegments))}{sentAgain}",
        };
    }

    private static string Named(uint block) => block == 0 ? "none" : Phrases.Runs(block);
}
