using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.Notes;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.History;

/// <summary>What people mean with a time or a name that they write.</summary>
public sealed partial class CaptureHistory
{
    private const long DayNs = 86_400_000_000_000;

    /// <summary>A time of day belongs to the first day of the capture on which it is covered, else to its first day. Null where the capture has no times.</summary>
    public long? TimeOf(NoteTime time)
    {
        if (TimeSpanNs is not { } span)
            return null;
        if (!time.OfDay)
            return time.Ns;
        long first = span.First - (span.First % DayNs) + time.Ns;
        return first + time.PrecisionNs >= span.First || first + DayNs > span.Last ? first : first + DayNs;
    }

    /// <summary>Primary address of the node that is called so, or has an element with that name or address; null where there is none.</summary>
    public MeshAddress? NodeNamed(string text)
    {
        if (text.Length == 0)
            return null;
        NetworkDescription? description = Directory.Description;
        foreach (DescribedNode node in description?.Nodes ?? [])
        {
            if (text.Equals(SafeText.Strip(node.Name), StringComparison.OrdinalIgnoreCase))
                return node.Unicast;
            foreach (DescribedElement element in node.Elements)
                if (text.Equals(description!.FindName(element.Address), StringComparison.OrdinalIgnoreCase))
                    return node.Unicast;
        }
        return MeshAddress.TryParse(text, out MeshAddress address) && address.IsUnicast ? Directory.NodeOf(address) : null;
    }
}
